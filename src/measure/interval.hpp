#pragma once
// What can be wrong with the share of paint, in parts that add in quadrature; the interval is 90 %.

#include "base/units.hpp"
#include "marking/marking.hpp"
#include "measure/plan_view.hpp"
#include "measure/separation.hpp"

namespace lotwear {

/// One standard deviation each, as shares of the footprint.
struct ErrorBudget {
  double references = 0;  ///< places of bare pavement and of sound paint
  double outline = 0;     ///< the rim differs from the core, and the outline may be off
  double light = 0;       ///< light inside the marking is inferred, not seen
  double opinions = 0;    ///< the mixture's weights and the linear mean disagree
  double sampling = 0;    ///< few pixels
  double hidden = 0;  ///< downward only: wear finer than the picture shows reads as duller paint, never as more of it
  double both_ways() const;
  double downward() const;
};
/// `blur_mm`: blur of the photo on the ground.
ErrorBudget error_budget(const PlanView& plan, const Separation& paint, const Footprint& footprint, double core_mm,
                         double blur_mm, double remaining);

/// 1.645 standard deviations each way, kept within 0..1.
Interval interval_of(double value, double deviation);
Interval interval_of(double value, double downward, double upward);

}  // namespace lotwear
