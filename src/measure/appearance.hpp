#pragma once
// Colour, surface, contrast, fading and soil from the paint-over-pavement ratio: exposure and light cancel; only the
// pavement's own usual reflectance has to be assumed.

#include "base/condition.hpp"
#include "measure/plan_view.hpp"
#include "measure/separation.hpp"

namespace lotwear {

Colour colour_of_ratio(const Ratio& paint_over_pavement, bool grey);
Colour colour_of_paint(const PlanView& plan, const Separation& paint, const Ratio& over_pavement, bool grey);
Surface surface_of(const PlanView& plan, const Separation& paint);
Appearance appearance_of(const PlanView& plan, const Separation& paint, Colour colour, Surface surface, double core_mm);
/// One standard deviation of the faded share: the pavement's reflectance is only known as a range.
double fading_error(const Separation& paint, Surface surface);

}  // namespace lotwear
