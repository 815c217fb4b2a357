#pragma once
// The marking's own paint among pixels over bare pavement: its colour, its place on the axis from bare and how much
// sound paint scatters there. It is the upper mode of the inside; where none stands out, the place where the
// distribution ends.

#include <opencv2/core/matx.hpp>

#include "measure/mixture.hpp"
#include "measure/paint_axis.hpp"
#include "measure/pavement_look.hpp"

namespace lotwear {

struct PaintFound {
  PaintAxis axis;            ///< from bare pavement, at 0, to this paint, at 1
  cv::Vec3d ratio{1, 1, 1};  ///< paint over pavement, R G B, linear light
  PaintPlace place;          ///< on the axis; `at` is not above 0 where no paint was found
  double bare_spread = 0;    ///< of bare pavement on the axis
};

/// Paint that the sun drives to the top of the scale looks duller against its pavement than it is, and its fine wear is
/// drowned. Where some of it lies in shade, the paint there tells its level.
/// `favour`: how much a higher mode is preferred to a stronger one (find_paint).
PaintFound find_paint_colour(const PaintSamples& samples, const PavementLook& look, double favour = 1.5);

}  // namespace lotwear
