#pragma once
// The printed scale sheet: a page of ArUco fiducials of known size (OpenCV's aruco module), with a check ruler.
//
// Four large fiducials near the corners carry far (12 MP phone photo, 4 m away, 60 degrees of tilt: a cell is still
// 8 x 4 pixels) and span the page, so that ink spread and glare, which grow or shrink every black square, cancel
// between left and right. Four small ones in a row between them show curl and serve close photos. White margins as wide
// as a cell and more keep every fiducial apart from dark pavement.

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
  double ruler_x_mm = 0, ruler_y_mm = 0, ruler_mm = 0;  ///< check ruler: where its line starts, how long
};
/// The two papers use different fiducial ids, so that a photo tells which sheet lies there.
SheetLayout sheet_layout(Paper paper);

/// Plane and scale from the sheet, nothing when none is in view. `scale_error` from the reprojection residuals.
std::optional<Ground> find_sheet(const Photo& photo);

inline constexpr int kFiducialCells =
    7;  ///< 5 x 5 code cells and a black border one cell wide (cv::aruco::DICT_5X5_50)

/// The fiducial's pattern, CV_8U, kFiducialCells x kFiducialCells, 0 black 1 white, black border included, upright.
cv::Mat fiducial_cells(int id);

}  // namespace lotwear
