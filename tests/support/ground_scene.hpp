#pragma once
// Photos of a flat pavement with a scale sheet and painted pieces on it, seen by a known camera. Every pixel is the
// mean of 4 x 4 looks at the exact ground, so edges lie where geometry puts them; blur and noise come after, in that
// order.

#include <cstdint>
#include <optional>
#include <vector>

#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/sheet.hpp"
#include "ground/view.hpp"

namespace lotwear::test {

struct LaidSheet {
  Paper paper = Paper::letter;
  GroundPoint corner;  ///< the paper's top-left corner
  double turn = 0;     ///< radians
  double curl_mm = 0;  ///< the paper's right edge stands up by this much
};

struct GroundScene {
  View view;  ///< the true camera
  cv::Size size{2016, 1512};
  double bend = 0;  ///< radial distortion: pixels move out by bend * r^3, r in focal lengths
  std::optional<LaidSheet> sheet;
  std::vector<GroundRing> paint;   ///< pieces, reflectance kPaint
  std::vector<GroundRing> shadow;  ///< regions that get a tenth of the light
  double exposure = 1;             ///< above 1 the paper burns out
  double blur_px = 0.7;
  double noise = 2;       ///< standard deviation in encoded steps of 255
  double texture = 0.15;  ///< standard deviation of the pavement's reflectance, as a share of it
  std::uint32_t seed = 1;
  bool focal_in_file = true;
};

Photo photograph(const GroundScene& scene);

/// What a perfect finder would say of the scene: shares of paint in every cell.
PaintMap perfect_map(const GroundScene& scene, double photo_per_cell);

/// Camera at `tilt_deg` with its axis meeting the ground `away_mm` from it.
View view_from(double tilt_deg, double lean_deg, double away_mm, double focal_px);

/// The ground point in the picture's middle.
GroundPoint middle_of(const GroundScene& scene);

/// A sheet whose middle lies at `at`.
LaidSheet sheet_at(GroundPoint at, double turn, Paper paper = Paper::letter);

}  // namespace lotwear::test
