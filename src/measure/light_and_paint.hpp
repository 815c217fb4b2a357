#pragma once
// The light on a marking and the marking's paint, found together: in even light the pavement beside it tells the light,
// and the light the paint. In broken light neither comes first: several guesses at the paint are tried, each with the
// light that suits it best, and the pair that explains the picture best is kept and refined.

#include <opencv2/core/mat.hpp>

#include "measure/paint_colour.hpp"
#include "measure/pavement_look.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

struct LightAndPaint {
  cv::Mat bare;  ///< CV_32FC3, bare pavement everywhere on the plan
  PaintFound found;
};

/// `sharp`: the plan's light with the photo's blur taken out; `core_mm`: how far inside the outline pixels are surely
/// of the marking. Where no paint shows, `found.place.at` is not above 0.
LightAndPaint find_light_and_paint(const PlanView& plan, const cv::Mat& sharp, const PavementLook& look,
                                   double core_mm);

}  // namespace lotwear
