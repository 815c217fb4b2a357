#pragma once
// Corners of fiducials -> the camera's pose over the sheet, with its error.

#include <optional>
#include <vector>

#include "ground/sheet_model.hpp"

namespace lotwear {

struct SheetPose {
  ViewBelief belief;
  SheetModel model;
  double misfit = 1;  ///< root mean square residual in units of the stated corner errors
};

/// Most probable pose. At least four corners, not on a line. Nothing when they fit no plane in front of the camera.
/// `camera`: a known focal length counts as right to 2 %, unless the corners contradict it (a cropped picture).
std::optional<SheetPose> sheet_pose(const std::vector<SheetCorner>& corners, const Camera& camera, cv::Size photo,
                                    cv::Size2d paper_mm);

}  // namespace lotwear
