#pragma once
// Rows of letters: which way they run, and the band that all of a row's letters fill.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <vector>

#include "base/geometry.hpp"

namespace lotwear {

struct Span {
  double low = 1e12, high = -1e12;
  double size() const { return high - low; }
  void take(double v) { low = std::min(low, v), high = std::max(high, v); }
};

Span span_along(const GroundRing& ring, GroundPoint axis);

struct LetterRow {
  GroundPoint along, across;  ///< unit vectors; which end of the row comes first is not said
  Span band;                  ///< of all letters, along `across`
  std::vector<std::size_t> letters;
};

/// The rows that letters near each other stand in, by their hulls: the way in which the fewest bands hold them all.
/// Letters that no such way puts beside another are left out.
std::vector<LetterRow> rows_among(const std::vector<std::size_t>& letters, const std::vector<GroundRing>& hulls);

}  // namespace lotwear
