#pragma once
// Colour, surface, contrast and soil from the paint-over-pavement ratio: exposure and light cancel; only the
// pavement's own usual reflectance has to be assumed.

#include "base/condition.hpp"
#include "measure/plan_view.hpp"
#include "measure/separation.hpp"

namespace lotwear {

Colour colour_of_ratio(const Ratio& paint_over_pavement, bool grey);
Colour colour_of_paint(const PlanView& plan, const Separation& paint, const Ratio& over_pavement, bool grey);
double chance_of_concrete(const Separation& paint);
Surface surface_of(const Separation& paint);
/// Contrast and soil; how faded the paint is comes from fading.hpp.
Appearance appearance_of(const PlanView& plan, const Separation& paint, double core_mm);

}  // namespace lotwear
