#pragma once
// An older coat of the top coat's own colour, laid bare where the top coat flaked off: duller, and told by how it lies.
//   1. the paint's level over the level of the top coat around it: slow change (light, soil, film) drops out
//   2. levels to try: heaps of flat spots between bare pavement and the top coat, apart from both; and a ladder, as the
//      top coat's own unevenness may hide a heap
//   3. patches of that level beside chips of bare pavement, with a step to the top coat as sharp as the photo: several,
//      as even in themselves as the top coat, and at chips far more than the top coat is; on the ladder, many
//   4. where light and shade both fall: not bluer, as shade is, and clearly at chips, as shade is not
// Soil and film have no sharp border, stains and shadows no chips, abrasion is mottled.
// Of rendered markings over such a coat of more than 5 % that colour does not tell, 13 of 57 are found on the scenes
// this was made with, 1 of 30 on others; the rest are clipped, finer than the picture shows or too near to the top
// coat. About one marking in 200 without one grew one on scenes not used before (abrasion, dapple); limits 4 and the
// ladder's were then drawn tighter.
// Tried and lost: flat dull blocks wherever they lie (1 of 13, 6 of 140 false); sharp steps between paint and paint
// counted alone; dull flat spots beside chips counted alone; an older rim beyond the outline: hardly better than chance; the
// top coat's level from blocks of 250 mm, for patches as large as a hand (no answer changed on 164 markings); two modes of
// the level smoothed over 5 mm (AUC 0.54). Learned from 454 rendered markings seen from above at 3 mm: a small U-Net on
// crops (AUC 0.63 on others, still rising when its time was over) and a net on 68 numbers a spot, the whole marking's
// histogram among them (0.77, but of markings over such a coat it finds a quarter where 2 % of the others grow one)

#include <opencv2/core/mat.hpp>
#include <optional>

#include "measure/light_field.hpp"
#include "measure/older_coat.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

/// `level`: CV_32F on the plan, 0 bare pavement .. 1 the usual paint, as the photo shows it; `bare`: bare pavement
/// under the local light.
std::optional<OlderCoat> find_duller_coat(const PlanView& plan, const cv::Mat& bare, const cv::Mat& level,
                                          const PavementLook& look, double core_mm, double blur_px);

}  // namespace lotwear
