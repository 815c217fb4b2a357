#pragma once
// PlanView -> how much paint lies at each spot, by linear unmixing between the pavement and the paint under the same
// light.
//   1. bare pavement everywhere (light_and_paint, light_field); every pixel is divided by it: light drops out
//   2. one axis in colour from bare to painted (paint_axis), weighted by how noisy bare pavement is along it
//   3. the paint's place on the axis (paint_colour): the upper mode inside the marking; where none stands out (paint
//      left only in specks) the place where the distribution ends
//   4. sound paint's slow variation along the marking (soil, thin film) is taken up by a local paint reference
//      (sound_paint)
//   5. places of bare and paint refined by a mixture fit (mixture): bare (its shape seen beside the marking), paint,
//      part-covered
// The mean of the unclamped coordinate is the share of paint: noise averages out, which clamping or a threshold would
// spoil.

#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>

#include "measure/coat_reader.hpp"
#include "measure/paint_guess.hpp"
#include "measure/pavement_look.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

struct Separation {
  cv::Mat share;    ///< CV_32F, 0 bare .. 1 paint, unclamped, noise and all; older coats count as 0 after older_coat
  cv::Mat by_look;  ///< CV_32F, the same as the coat reader sees it; empty where it was not asked
  cv::Mat flaked_by_look;  ///< CV_32F 0..1, chance that what is lost flaked, as the coat reader sees it; empty, NaN as
                           ///< by_look
  cv::Mat older;           ///< CV_32F 0..1, share of older coat; empty when none shows
  cv::Mat bare;            ///< CV_32FC3, bare pavement under the local light
  cv::Mat paint_gain;      ///< CV_32F, local paint over the marking's usual paint (soil darkens it below 1)
  Ratio over_pavement{};   ///< usual paint over pavement
  Ratio older_over_pavement{};
  double older_error = 0;                    ///< one standard deviation of the older coat's share
  double open_older = 0;                     ///< share of the core that may be an older coat all the same
  double swapped = 0;                        ///< chance that what is taken for the older coat lies on top
  double bare_spread = 0, paint_spread = 0;  ///< of the coordinate on bare pavement and on sound paint
  double bare_error = 0, paint_error = 0;  ///< one standard deviation of the two references, in units of the coordinate
  double paint_weight = 0, bare_weight = 0, mixed_weight = 0;  ///< mixture weights
  double contrast_to_noise = 0;                                ///< distance of paint from bare over the spread of bare
  double mixture_mean = 0;  ///< share of paint by the mixture's weights, a second opinion
  PavementLook look;
};

/// `core_mm`: how far inside the outline pixels are surely of the marking. `blur_px`: blur of the photo, its pixels;
/// the places of bare and paint are looked for with it taken out, as worn paint finer than the blur shows no pure
/// pixel. Nothing when no pavement is in sight.
/// `coats`: tells an older coat of the top coat's own colour too.
std::optional<Separation> separate(const PlanView& plan, double core_mm, double blur_px,
                                   const CoatReader* coats = nullptr);

}  // namespace lotwear
