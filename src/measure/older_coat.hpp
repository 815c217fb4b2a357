#pragma once
// An older coat laid bare inside a marking: a second paint, told from the top coat by colour or, of the same colour, by
// a duller level with sharp edges. Soil and shadows are dull too, but fade in and out; an older coat ends where a flake
// ended.

#include <opencv2/core/mat.hpp>
#include <optional>

#include "measure/light_field.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

struct OlderCoat {
  Ratio over_pavement{};
  cv::Mat map;       ///< CV_32F 0..1 on the plan, share of older coat
  double share = 0;  ///< of the core
};

/// `bare`: bare pavement under the local light; `top`: the top coat over pavement. `noise`: spread of bare pavement's
/// ratio. `broken`: in broken light brightness alone is no evidence.
std::optional<OlderCoat> find_older_coat(const PlanView& plan, const cv::Mat& bare, const Ratio& top, double core_mm,
                                         bool broken);

}  // namespace lotwear
