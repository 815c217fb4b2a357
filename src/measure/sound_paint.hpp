#pragma once
// The level of sound paint on the axis from bare to painted: in one marking soil and thin film vary it slowly, and wear
// finer than the picture shows draws the whole of it down. Both are read off its smooth blocks. `x`: CV_32F of the
// plan's size, the coordinate, paint at about 1; `core_mm`: how far inside the outline pixels are surely of the
// marking.

#include <opencv2/core/mat.hpp>

#include "measure/plan_view.hpp"

namespace lotwear {

/// Paint worn finer than the picture shows is duller where it is rougher: the level of the calmest blocks is that of
/// sound paint, where blocks differ at all.
/// Returns it over the usual one; 1 where too few blocks tell.
double calm_paint(const PlanView& plan, const cv::Mat& x, double core_mm);

/// Level of sound paint around every spot, over the usual one: blocks of smooth paint, carried. CV_32F of the plan's
/// size; all 1 where too few blocks tell. `paint_spread`: of sound paint, pixel by pixel, as its mode shows it.
cv::Mat local_paint(const PlanView& plan, const cv::Mat& x, double core_mm, double paint_spread);

}  // namespace lotwear
