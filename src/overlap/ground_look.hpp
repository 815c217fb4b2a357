#pragma once
// The pavement of a photo as it can be recognised in another: seen from above, with its corners of worn paint, cracks,
// stains. Two photos of one spot from two sides look alike from above but for a turn.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "base/geometry.hpp"
#include "capture/photo.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"

namespace lotwear {

/// About a third of a megabyte: all of a walk's are kept until its last photo is in.
struct GroundLook {
  static constexpr double kPlanMm = 8;  ///< a pixel of the plan: stones blur, chips and cracks stay

  std::vector<GroundPoint> at;  ///< spots to be recognised, on the photo's own ground
  cv::Mat words;                ///< CV_8U, a row each, what lies around the spot
  GroundPoint origin;           ///< ground point of the outer corner of the plan's top-left pixel
  std::vector<unsigned char> plan_jpeg, own_png;

  /// CV_8U, grey as encoded in the photo. Empty when nothing is shown.
  cv::Mat plan() const;
  /// CV_8U, 255 where the plan shows what no other spot has: away from outlines, which stencils repeat, and from the
  /// scale sheet.
  cv::Mat own() const;
};

/// Of the ground about the markings, as far as the photo shows it finely enough. Empty where there are none.
GroundLook look_at_ground(const Photo& photo, const Ground& ground, const std::vector<Footprint>& footprints);

/// The same of a plan view; `search`: where spots are looked for.
GroundLook look_of_plan(const cv::Mat& plan, const cv::Mat& own, const cv::Mat& search, GroundPoint origin);

}  // namespace lotwear
