#include "marking/letter_rows.hpp"

#include <cmath>
#include <numbers>

namespace lotwear {

namespace {

/// Letters in bands that do not overlap, seen along one way.
struct Bands {
  std::vector<LetterRow> rows;
  std::size_t alone = 0;  ///< letters that have their band for themselves
  double height = 0;      ///< of all bands together

  bool better_than(const Bands& other) const {
    return alone != other.alone ? alone < other.alone : height < other.height;
  }
};

Bands bands_along(double angle, const std::vector<std::size_t>& letters, const std::vector<GroundRing>& hulls) {
  constexpr double kOverlap = 0.25;  // of the lesser: ascending tails of worn letters touch the next row
  const GroundPoint along{std::cos(angle), std::sin(angle)}, across{-along.y, along.x};
  std::vector<std::pair<Span, std::size_t>> spans;
  for (const std::size_t i : letters)
    spans.emplace_back(span_along(hulls[i], across), i);
  std::sort(spans.begin(), spans.end(), [](const auto& a, const auto& b) { return a.first.low < b.first.low; });
  Bands bands;
  for (const auto& [span, i] : spans) {
    LetterRow* row = bands.rows.empty() ? nullptr : &bands.rows.back();
    if (row == nullptr || row->band.high - span.low < kOverlap * std::min(span.size(), row->band.size())) {
      bands.rows.push_back({along, across, {}, {}});
      row = &bands.rows.back();
    }
    row->band.take(span.low), row->band.take(span.high);
    row->letters.push_back(i);
  }
  for (const LetterRow& row : bands.rows) {
    bands.alone += row.letters.size() == 1 ? 1 : 0;
    bands.height += row.band.size();
  }
  return bands;
}

}  // namespace

Span span_along(const GroundRing& ring, GroundPoint axis) {
  Span span;
  for (const GroundPoint& p : ring)
    span.take(dot(axis, p));
  return span;
}

std::vector<LetterRow> rows_among(const std::vector<std::size_t>& letters, const std::vector<GroundRing>& hulls) {
  constexpr int kWays = 180;
  if (letters.size() < 2) return {};
  Bands best = bands_along(0, letters, hulls);
  for (int k = 1; k < kWays; ++k) {
    Bands tried = bands_along(std::numbers::pi * k / kWays, letters, hulls);
    if (tried.better_than(best)) best = std::move(tried);
  }
  std::erase_if(best.rows, [](const LetterRow& row) { return row.letters.size() < 2; });
  return best.rows;
}

}  // namespace lotwear
