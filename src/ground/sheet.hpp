#pragma once
// The printed scale sheet: a page of ArUco fiducials of known size (OpenCV's aruco module), with a check ruler.

#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/geometry.hpp"
#include "base/units.hpp"
#include "capture/photo.hpp"
#include "ground/ground.hpp"

namespace lotwear {

enum class Paper { letter, a4 };

/// Fiducial: aruco id and its square on the sheet, millimetres from the sheet's top-left corner.
struct Fiducial {
  int id = 0;
  double x_mm = 0, y_mm = 0, side_mm = 0;
};
struct SheetLayout {
  Paper paper = Paper::letter;
  double width_mm = 0, height_mm = 0;
  std::vector<Fiducial> fiducials;
  double ruler_x_mm = 0, ruler_y_mm = 0, ruler_mm = 0;  ///< check ruler: where it starts, how long
};
/// The two papers use different fiducial ids, so that a photo tells which sheet lies there.
SheetLayout sheet_layout(Paper paper);

/// Plane and scale from the sheet, nothing when none is in view. `scale_error` from the reprojection residuals.
std::optional<Ground> find_sheet(const Photo& photo);

/// The fiducial's pattern, cells x cells, 0 black 1 white, black border included.
cv::Mat fiducial_cells(int id);

}  // namespace lotwear
