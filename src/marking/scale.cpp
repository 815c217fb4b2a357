#include "marking/scale.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

namespace {

struct Usual {
  double mm, share, spread;   // spread: one standard deviation as a share
};

// Stripe widths: MUTCD 4-6 in normal lines, stop lines 12-24 in, crosswalk lines 6-24 in, bars 12-24 in (reference values,
// section 3). Shares: common practice, no source. Overall lengths: MUTCD Fig. 3B-24 from memory, and the shorter arrows
// usual on parking lots (common practice, no source); accessible symbol 28 and 41 in by MUTCD Fig. 3B-22.
std::vector<Usual> usual_sizes(const SizeSeen& seen) {
  switch (seen.kind) {
    case Kind::line: return {{101.6, 0.68, 0.03}, {152.4, 0.16, 0.03}, {127, 0.08, 0.03}, {76.2, 0.03, 0.04}, {203.2, 0.05, 0.04}};
    case Kind::hatching: return {{101.6, 0.55, 0.04}, {152.4, 0.25, 0.04}, {203.2, 0.1, 0.04}, {304.8, 0.1, 0.04}};
    case Kind::stop_line: return {{304.8, 0.35, 0.03}, {457.2, 0.2, 0.03}, {609.6, 0.45, 0.03}};
    case Kind::crosswalk: return {{304.8, 0.35, 0.04}, {609.6, 0.35, 0.04}, {457.2, 0.1, 0.04}, {203.2, 0.1, 0.04}, {152.4, 0.1, 0.04}};
    case Kind::accessible_symbol: return {{1041, 0.5, 0.05}, {711, 0.2, 0.05}, {914, 0.3, 0.2}};
    case Kind::yield_line: return {{609.6, 0.5, 0.2}, {457.2, 0.5, 0.2}};
    default: break;
  }
  if (is_arrow(seen.kind)) {
    const bool combined = seen.kind == Kind::arrow_straight_left || seen.kind == Kind::arrow_straight_right;
    return {{combined ? 3890.0 : 2440.0, 0.35, 0.12}, {combined ? 2400.0 : 1830.0, 0.65, 0.3}};
  }
  return {};
}

double log_likelihood(const SizeSeen& seen, double factor) {
  const std::vector<Usual> usual = usual_sizes(seen);
  if (usual.empty()) return 0;
  double density = 0.01;   // home-made sizes: any width is possible now and then
  for (const Usual& u : usual) {
    const double spread = std::hypot(u.spread, seen.error), z = std::log(seen.nominal_mm * factor / u.mm) / spread;
    density += u.share * std::exp(-0.5 * z * z) / spread * 0.05;
  }
  return std::log(density);
}

}  // namespace

std::optional<ScaleFound> find_scale(const Ground& ground, const std::vector<SizeSeen>& seen) {
  const double prior = ground.scale_error ? ground.scale_error->value : 0.6;
  std::vector<double> weight, grid;
  bool any = false;
  double widths = 0, shapes = 0;
  for (const SizeSeen& s : seen) {
    if (usual_sizes(s).empty()) continue;
    any = true;
    (s.is_width ? widths : shapes) += 1;
  }
  if (!any) return std::nullopt;
  double highest = -1e300;
  for (double t = -1.0; t <= 1.0; t += 0.004) {
    double sum = -0.5 * (t / prior) * (t / prior);
    // stripes of one photo are mostly of one width: many of them are not independent votes
    const double share = 1.0 / std::sqrt(std::max(1.0, widths + shapes));
    for (const SizeSeen& s : seen) sum += log_likelihood(s, std::exp(t)) * std::max(share, 0.35);
    grid.push_back(t);
    weight.push_back(sum);
    highest = std::max(highest, sum);
  }
  double total = 0, mean = 0, square = 0;
  for (std::size_t i = 0; i < grid.size(); ++i) {
    const double w = std::exp(weight[i] - highest);
    total += w, mean += w * grid[i], square += w * grid[i] * grid[i];
  }
  mean /= total;
  ScaleFound found;
  // one likely width: take it; several: the middle of them is wrong for each, but by less than the wrong one of them
  const double peak = grid[static_cast<std::size_t>(std::max_element(weight.begin(), weight.end()) - weight.begin())];
  const double spread = std::sqrt(std::max(1e-6, square / total - mean * mean));
  found.factor = std::exp(spread < 0.1 ? peak : mean);
  const double around = std::log(found.factor) - mean;
  found.error = {std::sqrt(std::max(1e-6, square / total - mean * mean + around * around))};
  found.source = widths > 0 ? "stripe-width" : "shape";
  return found;
}

}  // namespace lotwear
