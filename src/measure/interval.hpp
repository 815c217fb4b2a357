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
  double outline = 0;     ///< the outline takes in pavement, or its rim differs from the core
  double light = 0;       ///< light inside the marking is inferred, not seen
  double sampling = 0;    ///< block bootstrap
  double opinions = 0;    ///< spread between estimators
  double total() const;
};
ErrorBudget error_budget(const PlanView& plan, const Separation& paint, const Footprint& footprint, double core_mm,
                         double remaining);

/// 1.645 standard deviations each way, kept within 0..1.
Interval interval_of(double value, double deviation);

}  // namespace lotwear
