#pragma once
// Corners of fiducials -> the camera's pose over the sheet, with its error.

#include <optional>
#include <vector>

#include "ground/view.hpp"

namespace lotwear {

/// A corner of a fiducial in the photo, and where it lies on the sheet.
struct SheetCorner {
  double x_mm = 0, y_mm = 0;  ///< from the sheet's top-left corner
  double inward_x = 0,
         inward_y = 0;  ///< towards the fiducial's middle, -1 or 1 each: where ink spread and glare move it
  ImagePoint seen;
  double error_px = 0.1;  ///< one standard deviation, each direction
};

struct SheetPose {
  ViewBelief belief;
  ImageFromGround image_from_sheet;  ///< from sheet millimetres (GroundFrame, before turning) to a straight picture
  ImagePoint middle;                 ///< of the photo
  double bend = 0;                   ///< the lens moves points out by bend times the cube of their distance, in pixels
  double spread_mm = 0;              ///< how far ink and glare move the black squares' edges inward
  double misfit = 1;                 ///< root mean square residual in units of the stated corner errors
  double worst_px = 0;               ///< largest residual
};

/// A point of the sheet in the photo, the lens's bend included.
ImagePoint in_photo(const SheetPose& pose, GroundPoint on_sheet);

/// Most probable pose. At least four corners, not on a line. Nothing when they fit no plane in front of the camera.
/// `focal` is the camera's focal length; a known one counts as right to 2 %, unless the corners contradict it.
std::optional<SheetPose> sheet_pose(const std::vector<SheetCorner>& corners, const Camera& focal, cv::Size photo);

}  // namespace lotwear
