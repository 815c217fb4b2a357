#pragma once
// An older coat laid bare inside a marking, told from the top coat by colour. What is worn, thin or under a grey film
// moves a paint straight toward the pavement: the direction in which it differs from bare pavement stays. A second
// direction, held by solid patches that end as sharply as the photo is, is a second paint. Soil fades in and out, light
// that clips a channel is left out of the comparison.
// Which of the two lies on top: the larger one as a rule, and the one that borders less on bare pavement, as the older
// coat lies in the same chips as bare pavement.
// Coats of one hue that differ in level alone are told by how they lie, not here: coat_reader.

#include <opencv2/core/mat.hpp>
#include <optional>

#include "measure/paint_guess.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

struct OlderCoat {
  Ratio over_pavement{};
  cv::Mat map;         ///< CV_32F 0..1 on the plan, share of older coat
  double share = 0;    ///< of the core
  double error = 0;    ///< one standard deviation of the share, where it is guessed by its look
  double swapped = 0;  ///< chance that it is the other way round: this coat on top
};

/// `bare`: bare pavement under the local light; `paint`: a first look at the paint over pavement, either coat's;
/// `blur_px`: the photo's; `broken`: light
/// and shade both fall on the marking.
std::optional<OlderCoat> find_older_coat(const PlanView& plan, const cv::Mat& bare, const Ratio& paint, double core_mm,
                                         double blur_px, bool broken);

}  // namespace lotwear
