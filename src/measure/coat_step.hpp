#pragma once
// Two coats of one colour differ in level alone. A network that has learned how older coats lie also sees them where
// only the chips are like those of its lessons; so what it says counts where the photo shows the step.

#include <opencv2/core/mat.hpp>

namespace lotwear {

/// Between the spots of one coat and those of another, compared block by block, so that light and film drop out.
struct CoatStep {
  int blocks = 0;      ///< that hold enough of both
  double step = 0;     ///< log of light, older less top, mean over the blocks
  double spread = 0;   ///< of the blocks about it
  double one_way = 0;  ///< share of the blocks in which the older coat is on the side where most have it, 0.5 .. 1
  bool shows() const;  ///< more than chance and film make
  bool leans() const;  ///< not against it; enough where all but this is sure
};

/// `input`: CoatView::input; `chances`: CoatAnswer::chances; `least`: chance of older coat from which a spot counts as
/// such. Spots next to bare pavement are left out: at three millimetres they are mixed with it.
CoatStep step_between(const cv::Mat& input, const cv::Mat& chances, float least);

}  // namespace lotwear
