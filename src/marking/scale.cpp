#include "marking/scale.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

namespace {

constexpr double kRangeInSigmas = 4;   // a proportion's range, low to high: the rims are rare
constexpr double kLeastSpread = 0.05;  // hand-made stencils

double width_over_length(const Shape& shape, const std::vector<double>& values) {
  double low_x = 1e300, high_x = -1e300, low_y = 1e300, high_y = -1e300;
  for (const GroundRing& ring : outline(shape, 1000, values)) {
    for (const GroundPoint& p : ring) {
      low_x = std::min(low_x, p.x), high_x = std::max(high_x, p.x);
      low_y = std::min(low_y, p.y), high_y = std::max(high_y, p.y);
    }
  }
  return (high_x - low_x) / (high_y - low_y);
}

}  // namespace

// How exactly a crew keeps a nominal width: a quarter of an inch either way on 4 in (common practice, no source).
constexpr double kCrew = 0.04;

// Stripe widths: MUTCD 4-6 in normal lines, stop lines 12-24 in, crosswalk lines 6-24 in, bars 12-24 in (reference
// values, section 3). Shares: common practice, no source. Overall lengths: MUTCD Fig. 3B-24 from memory, and the
// shorter arrows usual on parking lots (common practice, no source); accessible symbol 28 and 41 in by MUTCD Fig.
// 3B-22.
SizeFamily family_of(Kind kind) {
  SizeFamily family;
  switch (kind) {
    case Kind::line:
      family.usual = {
          {101.6, 0.7, kCrew}, {152.4, 0.15, kCrew}, {127, 0.1, 0.12}, {76.2, 0.02, kCrew}, {203.2, 0.03, kCrew}};
      family.unusual = 0.04;
      return family;
    case Kind::hatching:
      family.usual = {
          {101.6, 0.6, kCrew}, {152.4, 0.2, kCrew}, {127, 0.1, 0.12}, {203.2, 0.06, kCrew}, {304.8, 0.04, kCrew}};
      family.unusual = 0.06;
      return family;
    case Kind::stop_line:
      family.usual = {{304.8, 0.25, kCrew}, {457.2, 0.1, kCrew}, {609.6, 0.25, kCrew}, {440, 0.4, 0.25}};
      family.unusual = 0.06;
      return family;
    case Kind::crosswalk:
      family.usual = {{304.8, 0.2, kCrew}, {609.6, 0.15, kCrew}, {152.4, 0.05, kCrew}, {330, 0.6, 0.4}};
      return family;
    case Kind::accessible_symbol:
      family.usual = {{1041, 0.4, 0.04}, {711, 0.15, 0.04}, {914, 0.45, 0.2}};
      break;
    case Kind::yield_line:
      family.usual = {{609.6, 0.5, 0.2}, {457.2, 0.5, 0.2}};
      break;
    default:
      if (is_arrow(kind)) {
        const bool combined = kind == Kind::arrow_straight_left || kind == Kind::arrow_straight_right;
        family.usual = {{combined ? 3890.0 : 2440.0, 0.25, 0.12}, {combined ? 2000.0 : 1750.0, 0.75, 0.28}};
      }
      break;
  }
  family.is_width = false;
  return family;
}

UsualProportion usual_proportion(const Shape& shape) {
  const std::vector<double> values = usual_values(shape);
  UsualProportion usual;
  usual.width_over_length = width_over_length(shape, values);
  double variance = kLeastSpread * kLeastSpread;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const Proportion& p = shape.proportions[i];
    const double sigma = (p.high - p.low) / kRangeInSigmas;
    std::vector<double> up = values, down = values;
    up[i] = std::min(p.high, values[i] + sigma), down[i] = std::max(p.low, values[i] - sigma);
    const double by = std::log(width_over_length(shape, up) / width_over_length(shape, down)) / 2;
    variance += by * by;
  }
  usual.spread = std::sqrt(variance);
  return usual;
}

}  // namespace lotwear
