#pragma once
// The core of a marking: plan pixels so far inside its outline that they are surely of it, however the outline errs.
// Row and column of the plan, millimetres on the pavement. Inline: every pixel of a plan is asked.

#include "measure/plan_view.hpp"

namespace lotwear {

inline bool deep(const PlanView& plan, int r, int c, double core_mm) {
  return plan.inside_mm.at<float>(r, c) > static_cast<float>(core_mm);
}

inline bool in_core(const PlanView& plan, int r, int c, double core_mm) {
  return plan.ours.at<unsigned char>(r, c) != 0 && deep(plan, r, c, core_mm);
}

}  // namespace lotwear
