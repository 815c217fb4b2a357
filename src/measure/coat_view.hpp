#pragma once
// The plan view as the coat reader's network sees it: fine enough for chips, in light over the marking's own paint.

#include <opencv2/core/mat.hpp>

#include "measure/plan_view.hpp"

namespace lotwear {

struct CoatView {
  cv::Mat input;  ///< CV_32FC4: log of red, green, blue light over the marking's brightest paint; inside (-1 .. 1)
  cv::Rect at;    ///< the part of the plan, its pixels
  double mm_per_pixel = 0;
};

/// Empty input where next to nothing of the marking is seen. `core_mm`: how far inside the outline pixels are surely of
/// the marking.
CoatView coat_view(const PlanView& plan, double core_mm);

}  // namespace lotwear
