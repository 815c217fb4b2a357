#include "measure/interval.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

double ErrorBudget::total() const {
  return std::sqrt(references * references + outline * outline + light * light + sampling * sampling +
                   opinions * opinions);
}

ErrorBudget error_budget(const PlanView& plan, const Separation& paint, const Footprint& footprint, double core_mm,
                         double remaining) {
  ErrorBudget budget;
  budget.references = std::hypot(paint.paint_error * remaining, paint.bare_error * (1 - remaining));
  double rim = 0, whole = 0;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      const float d = plan.inside_mm.at<float>(r, c);
      if (d <= 0) continue;
      whole += 1;
      rim += d <= static_cast<float>(core_mm) ? 1 : 0;
    }
  }
  rim = whole > 0 ? rim / whole : 0;
  // The rim is taken to be like the core; worn markings' rims differ from it by a part of what is lost.
  const double beyond = std::max(0.0, footprint.edge_error.value - core_mm);
  budget.outline = rim * (0.03 + 0.25 * remaining * (1 - remaining)) + beyond * plan.photo_px_mm * 0;
  budget.light = paint.look.broken ? 0.025 : 0.005;
  budget.opinions = 0.5 * std::abs(paint.mixture_mean - remaining);
  return budget;
}

Interval interval_of(double value, double deviation) {
  const double v = std::clamp(value, 0.0, 1.0), reach = 1.645 * deviation;
  return {Fraction{std::max(0.0, v - reach)}, Fraction{v}, Fraction{std::min(1.0, v + reach)}};
}

}  // namespace lotwear
