#pragma once
// The pavement beside a marking, as far as it is bare: the plan's `beside` without grass and without paint that belongs
// to no footprint. Judged on blocks of 6 mm in linear light; with too few of them the plan stays as it is.

#include "measure/plan_view.hpp"

namespace lotwear {

/// Takes what is surely not bare pavement out of `beside`: vegetation, and paint of this marking's colour that belongs
/// to no footprint (a second line beside it). Judged by chromaticity, which shadows hardly change.
void clean_beside(PlanView& plan);

}  // namespace lotwear
