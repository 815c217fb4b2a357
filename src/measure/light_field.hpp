#pragma once
// What bare pavement would look like at every spot of the plan, under the light that falls there: the reference that
// every share of paint is counted from. Beside the marking it is seen; inside it is inferred.
//   even light    local means of the pavement beside the marking, carried inward
//   broken light  a grid of small blocks, each with one of a few light levels between the deepest shade and full sun;
//   the
//                 level's tint (skylight is bluer) is learned beside the marking; a block inside costs what its pixels
//                 cost as bare, part or whole paint under that level; neighbours agree unless a shadow's edge runs
//                 between them (min-sum belief propagation)
// Brightness alone cannot tell white paint in the shade from asphalt in the sun; tint, stone texture and the light on
// the other side of the marking's edge can.

#include <array>
#include <memory>
#include <opencv2/core/mat.hpp>
#include <optional>

#include "measure/plan_view.hpp"

namespace lotwear {

using Ratio = std::array<double, 3>;  ///< paint over pavement, R G B, linear light

/// What is known of the paint before the light is settled.
struct PaintGuess {
  Ratio over_pavement{};
  double spread = 0.08;  ///< spread of the log brightness of sound paint, pixel by pixel
};

struct PavementLook {
  std::array<double, 3> sun{}, shade{};  ///< mean linear light of bare pavement in the brightest and the deepest light
  bool broken = false;                   ///< light and shade both fall on the pavement beside the marking
  double texture = 0.15;                 ///< spread of the log brightness of bare pavement, pixel by pixel
  double chroma_spread = 0.03;           ///< spread of the shares of red and blue of bare pavement
  double share_seen = 0;                 ///< pixels beside the marking over pixels inside
};

/// Nothing when no pavement is to be seen beside the marking.
std::optional<PavementLook> look_of_pavement(const PlanView& plan);

/// CV_32FC3, bare pavement everywhere on the plan.
/// `scale_mm`: blur of the means beside the marking; small ones follow shadows but hold only close to the outline.
cv::Mat even_light(const PlanView& plan, double scale_mm);
/// A glance tells good guesses from bad ones at a sixth of the cost.
enum class Effort { glance, full };
struct BrokenLight {
  cv::Mat bare;  ///< CV_32FC3, bare pavement everywhere on the plan
  double misfit =
      0;  ///< mean cost a block inside the marking: the lower, the better paint and light explain the picture
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

/// Values known where `weight` > 0, carried to everywhere: local where there are local ones, else from farther away.
/// `values` CV_32F with any channels on a grid `mm` apart; `scale_mm` is the finest blur.
cv::Mat carried(const cv::Mat& values, const cv::Mat& weight, double mm, double scale_mm);

}  // namespace lotwear
