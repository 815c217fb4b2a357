#pragma once
// How a sheet on the ground comes to look as it does in a photo: the camera's pose, where the sheet lies, and what
// bends the picture of it - a lens, glare, paper that does not lie flat. The nuisances matter because corners are seen
// to a twentieth of a pixel: without them they would be explained by a wrong tilt.

#include <opencv2/core/matx.hpp>
#include <opencv2/core/types.hpp>

#include "ground/view.hpp"

namespace lotwear {

/// A corner of a fiducial in the photo, and where it lies on the sheet.
struct SheetCorner {
  double x_mm = 0, y_mm = 0;          ///< from the sheet's top-left corner
  double inward_x = 0, inward_y = 0;  ///< towards the fiducial's middle, -1 or 1 each
  ImagePoint seen;
  double error_px = 0.1;  ///< one standard deviation, each direction
};

/// The numbers a sheet's picture depends on.
enum SheetUnknown {
  kPitch,
  kLean,
  kLogFocal,
  kLogHeight,
  kYaw,     ///< the sheet's turn on the ground, radians
  kShiftX,  ///< the sheet's top-left corner on the ground, in camera heights
  kShiftY,
  kShrink,     ///< pixels by which the black squares' edges move inward: glare, ink spread
  kBend,       ///< of the lens: points move out by kBend times the cube of their distance, in focal lengths
  kLiftRight,  ///< millimetres by which the paper's right edge stands up, growing with the square of the distance from
               ///< the left one; and so on
  kLiftLeft,
  kLiftBottom,
  kLiftTop,
  kSheetUnknowns
};
using SheetUnknowns = cv::Vec<double, kSheetUnknowns>;

struct SheetModel {
  SheetUnknowns at;
  cv::Size photo;
  cv::Size2d paper_mm;

  View view() const { return {at[kPitch], at[kLean], at[kLogFocal], at[kLogHeight]}; }
};

/// Points of the sheet, millimetres from its top-left corner, in the photo. Built once a model: it is asked for many.
class SheetPicture {
 public:
  explicit SheetPicture(const SheetModel& model);
  ImagePoint point(double x_mm, double y_mm) const;
  /// Where the corner of the black square appears, glare included.
  ImagePoint corner(const SheetCorner& corner) const;

 private:
  SheetModel model_;
  Ground ground_;
  double height_ = 0, cosine_ = 1, sine_ = 0, bend_ = 0;
};

}  // namespace lotwear
