#pragma once
// The marking and the pavement around it seen from straight above, in linear light, at about the photo's own
// resolution.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "base/geometry.hpp"
#include "base/trouble.hpp"
#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"

namespace lotwear {

struct PlanSettings {
  double most_pixels = 8.0e5;   ///< memory and time stay bounded however large the marking is
  double finest_mm = 0.4;       ///< finer than this nothing of paint or stone is gained
  double least_margin_mm = 90;  ///< pavement wanted beside the marking
  double most_margin_mm = 350;
  double fewest_pixels_across = 5;  ///< photo pixels across the narrowest part; below that edges are all there is
};

/// All maps one size, row-major. Millimetres on the pavement.
struct PlanView {
  cv::Mat light;  ///< CV_32FC3, linear R G B as sRGB primaries, 0..1
  cv::Mat fine;  ///< CV_32FC3, single photo pixels with the blur taken out, every `sample_step`-th plan pixel each way;
                 ///< empty where plan pixels are about as fine as the photo's
  int sample_step = 1;  ///< pixels this far apart are enough to learn from what paint and pavement look like
  cv::Mat inside_mm;    ///< CV_32F, signed distance to the outline, positive inside
  cv::Mat ours;         ///< CV_8U, 1: inside this footprint and seen
  cv::Mat beside;       ///< CV_8U, 1: pavement beside the marking, clear of every footprint and of the sheet
  cv::Mat clipped;      ///< CV_8U, bits 1, 2, 4: red, green, blue at the top of the scale
  double mm_per_pixel = 1;
  double photo_px_mm = 1;    ///< a photo pixel on the ground, geometric mean over the marking
  double pixels_across = 0;  ///< photo pixels across the marking's width where half of what is seen of it is narrower
  bool on_field = false;     ///< painted upon another marking: beside it lies that one's paint, not pavement
  double seen = 1;           ///< share of the footprint inside the picture
  GroundPoint origin;        ///< ground point of the outer corner of the top-left pixel
  double turn_rad = 0;       ///< the plan's x axis is the ground's x axis turned by this angle

  GroundPoint ground_at(double column, double row) const;  ///< plan pixel coordinates, (0, 0) at the outer corner
};

/// Problem: out of the picture or too small in it.
Result<PlanView> look_down(const Photo& photo, const PaintMap& paint, const Ground& ground,
                           const std::vector<Footprint>& all, std::size_t which, const PlanSettings& settings = {});

/// A map of `paint` (any of its full-size maps) on the plan's grid, CV_32F; empty when the map is empty.
cv::Mat on_plan(const cv::Mat& map, double photo_per_cell, const PlanView& plan, const Ground& ground);

}  // namespace lotwear
