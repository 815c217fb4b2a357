#pragma once
// The sheet's pose with its covariance, for find_ground() to go on with; find_sheet() in sheet.hpp is the plain answer.

#include <optional>

#include "ground/sheet.hpp"
#include "ground/view.hpp"

namespace lotwear {

struct FoundSheet {
  Paper paper = Paper::letter;
  int fiducials = 0;  ///< how many the pose rests on
  double misfit = 1;  ///< residuals over their stated errors; a curled sheet or a bent lens has more
  ViewBelief belief;
  ImageRing outline;  ///< the paper's edge, a little grown
};
std::optional<FoundSheet> locate_sheet(const Photo& photo);

}  // namespace lotwear
