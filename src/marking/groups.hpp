#pragma once
// Stripes that make one marking together: a crosswalk's bars, hatching, a row of yield triangles, a word's letters.

#include <vector>

#include "base/kinds.hpp"
#include "marking/bars.hpp"

namespace lotwear {

/// Indices of bars that belong together, in the order of the first; single bars are groups of one.
struct BarGroup {
  Kind kind = Kind::line;
  double confidence = 0;
  std::vector<std::size_t> bars;
};
std::vector<BarGroup> group_bars(const std::vector<FittedBar>& bars, bool true_scale);

/// Indices of pieces (by middle and size) within `reach_mm` of one another.
std::vector<std::vector<std::size_t>> near_each_other(const std::vector<std::vector<GroundRing>>& rings, double reach_mm);

}  // namespace lotwear
