#include "measure/interval.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

double ErrorBudget::both_ways() const {
  return std::sqrt(references * references + outline * outline + light * light + opinions * opinions +
                   sampling * sampling);
}

double ErrorBudget::downward() const { return std::hypot(both_ways(), hidden); }

ErrorBudget error_budget(const PlanView& plan, const Separation& paint, const Footprint& footprint, double core_mm,
                         double blur_mm, double remaining) {
  ErrorBudget budget;
  budget.references = std::hypot(paint.paint_error * remaining, paint.bare_error * (1 - remaining));
  double rim = 0, whole = 0;
  for (int r = 0; r < plan.light.rows; ++r) {
    const float* inside = plan.inside_mm.ptr<float>(r);
    for (int c = 0; c < plan.light.cols; ++c) {
      if (inside[c] <= 0) continue;
      whole += 1;
      rim += inside[c] <= static_cast<float>(core_mm) ? 1 : 0;
    }
  }
  const double share = whole > 0 ? rim / whole : 0;
  // The rim is taken to be like the core: worn markings differ there by a part of what is lost. Where the core could
  // not be kept clear of the outline's own error, pavement counts as loss or the other way round.
  const double unsafe = core_mm > 0 ? std::clamp(footprint.edge_error.value / core_mm - 0.75, 0.0, 2.0) : 2.0;
  budget.outline = share * (0.02 + 0.15 * remaining * (1 - remaining) + 0.25 * unsafe);
  budget.light = paint.look.broken ? 0.011 : 0.004;
  budget.opinions = 0.4 * std::abs(paint.mixture_mean - remaining);
  // A stone's width apart spots are independent: 10 mm.
  const double spots = std::max(4.0, whole * plan.mm_per_pixel * plan.mm_per_pixel / 100);
  budget.sampling = std::sqrt(remaining * (1 - remaining) / spots);
  const double coarse = std::clamp((blur_mm - 0.5) / 1.5, 0.0, 1.0);
  budget.hidden = remaining * (0.012 + 0.025 * coarse + 0.25 * coarse * paint.mixed_weight);
  return budget;
}

Interval interval_of(double value, double downward, double upward) {
  const double v = std::clamp(value, 0.0, 1.0);
  return {Fraction{std::max(0.0, v - 1.645 * downward)}, Fraction{v}, Fraction{std::min(1.0, v + 1.645 * upward)}};
}

Interval interval_of(double value, double deviation) { return interval_of(value, deviation, deviation); }

}  // namespace lotwear
