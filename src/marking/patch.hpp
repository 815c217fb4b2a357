#pragma once
// One marking's surroundings seen from straight above, turned so that the marking lies along x: what edges are searched in.

#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>

#include "base/geometry.hpp"
#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"

namespace lotwear {

using PatchPoint = Point<struct PatchFrame>;   ///< pixels of the patch, (0, 0) at the outer corner of the top-left pixel

/// Where a patch lies on the pavement.
struct PatchPlace {
  GroundPoint origin;           ///< ground point of patch (0, 0)
  double angle = 0;             ///< the patch's x axis is the ground's x axis turned by this, radians
  double mm_per_pixel = 1;
  int width = 0, height = 0;

  GroundPoint ground(PatchPoint p) const;
  PatchPoint patch(GroundPoint g) const;
};

/// Encoded colours of a marking's paint and of the pavement beside it, 0..255 R G B; means over the finder's cells.
struct PaintContrast {
  std::array<double, 3> paint{}, pavement{};
};

struct Patch {
  PatchPlace frame;
  cv::Mat paintness;   ///< CV_32F: 0 pavement .. 1 paint along their difference in encoded RGB (shade shrinks, never flips it)
  cv::Mat footprint;   ///< CV_32F: the finder's footprint share; empty until somebody lays it in (map_in_patch)
  cv::Mat inside;      ///< CV_8U: 255 where the patch is inside the photo
};

/// The part of the pavement inside `box` (patch axes at `angle` around ground `centre`, half sizes in mm), at the photo's own
/// resolution where that keeps the patch within `max_pixels`.
PatchPlace patch_frame(const Ground& ground, cv::Size photo, GroundPoint centre, double angle, double half_x_mm,
                        double half_y_mm, double max_pixels);

/// With `paintness` and `inside`.
Patch cut_patch(const Photo& photo, const Ground& ground, const PatchPlace& frame, const PaintContrast& contrast);

/// With `inside` alone, for who looks at the finder's maps only: a tenth of the cost.
Patch blank_patch(const Photo& photo, const Ground& ground, const PatchPlace& frame);

/// `map` (one of PaintMap's) seen in the patch frame.
cv::Mat map_in_patch(const cv::Mat& map, double photo_per_cell, const Ground& ground, const PatchPlace& frame);

}  // namespace lotwear
