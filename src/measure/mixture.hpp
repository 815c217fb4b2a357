#pragma once
// One-dimensional distributions of the paint coordinate: histograms, the paint's mode, a mixture of bare, part-covered,
// paint.

#include <algorithm>
#include <cstddef>
#include <vector>

namespace lotwear {

/// Equal bins over [low, high]; values beyond are counted in the end bins.
struct Histogram {
  double low = -1, high = 2;
  std::vector<double> bins;

  Histogram(double from, double to, std::size_t count)
      : low(from), high(to), bins(count, 0.0), bins_a_unit_(static_cast<double>(count) / (to - from)) {}
  double width() const { return (high - low) / static_cast<double>(bins.size()); }
  double centre(std::size_t i) const { return low + (static_cast<double>(i) + 0.5) * width(); }
  void add(double value, double weight = 1) {
    const double t = std::clamp((value - low) * bins_a_unit_, 0.0, static_cast<double>(bins.size()) - 1);
    bins[static_cast<std::size_t>(t)] += weight;
  }
  double total() const;
  Histogram smoothed(double sigma) const;

 private:
  double bins_a_unit_;
};

/// Where sound paint lies on the axis. `inside` and `beside` share their bins; bare pavement lies near 0, paint above.
struct PaintPlace {
  double at = 0;            ///< coordinate of sound paint
  double spread = 0;        ///< of sound paint
  double error = 0;         ///< one standard deviation of `at`
  bool stands_out = false;  ///< a mode of its own, not the end of a tail
};
/// `favour`: how much a higher mode is preferred to a stronger one (power of its height on the axis).
PaintPlace find_paint(const Histogram& inside, const Histogram& beside, double bare_spread, double favour);

struct Mixture {
  double bare = 0, paint = 0, part = 0;  ///< weights, sum 1
  double bare_at = 0, paint_at = 1;      ///< places; paint stays at 1: part-covered pixels would drag it down
  double paint_spread = 0.08;
  double mean = 0;  ///< share of paint by the weights
};
/// Expectation-maximisation; `beside` gives the shape of bare pavement, part-covered pixels lie evenly between the two.
Mixture fit_mixture(const Histogram& inside, const Histogram& beside, double paint_spread);

}  // namespace lotwear
