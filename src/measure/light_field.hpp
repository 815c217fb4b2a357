#pragma once
// What bare pavement would look like at every spot of the plan, under the light that falls there: the reference that
// every share of paint is counted from. Beside the marking it is seen; inside it is inferred.
//   even light    local means of the pavement beside the marking (pavement_blocks), carried inward (carried)
//   broken light  a grid of small blocks, each with one of a few light levels between the deepest shade and full sun;
//                 the level's tint (skylight is bluer) is learned beside the marking (pavement_look, light_levels); a
//                 block inside costs what its pixels cost as bare, part or whole paint under that level (light_costs);
//                 neighbours agree unless a shadow's edge runs between them (settled_levels)
// Brightness alone cannot tell white paint in the shade from asphalt in the sun; tint, stone texture and the light on
// the other side of the marking's edge can.

#include <memory>
#include <opencv2/core/mat.hpp>

#include "measure/paint_guess.hpp"
#include "measure/pavement_look.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

/// CV_32FC3, bare pavement everywhere on the plan.
/// `scale_mm`: blur of the means beside the marking; small ones follow shadows but hold only close to the outline.
cv::Mat even_light(const PlanView& plan, double scale_mm);

/// A glance tells good guesses from bad ones at a sixth of the cost.
enum class Effort { glance, full };
struct BrokenLight {
  cv::Mat bare;       ///< CV_32FC3, bare pavement everywhere on the plan
  double misfit = 0;  ///< mean cost a block inside the marking; the lower, the better paint and light explain it
};

/// Broken light on one plan, for one guess at the paint after another; what does not hang on the guess is done once.
class LightSearch {
 public:
  LightSearch(const PlanView& plan, const PavementLook& look);
  LightSearch(const LightSearch&) = delete;
  LightSearch& operator=(const LightSearch&) = delete;
  ~LightSearch();
  BrokenLight under(const PaintGuess& paint, Effort effort);

 private:
  struct Seen;
  std::unique_ptr<Seen> seen_;
};

}  // namespace lotwear
