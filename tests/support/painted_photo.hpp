#pragma once
// A plain picture of outlines painted on grainy pavement, and what a perfect finder would say of it: for tests of
// `marking`, where the outline is the question and wear only a disturbance.

#include <random>
#include <vector>

#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"

namespace lotwear::testing {

struct PaintedThing {
  std::vector<GroundRing> rings;
  FinderKind kind = FinderKind::line;
  cv::Vec3b colour{225, 225, 220};
};

struct PaintedScene {
  cv::Size size{2016, 1512};
  double tilt_deg = 35;
  Millimetres height{1500};
  double focal_px = 1450;
  std::vector<PaintedThing> things;
  std::vector<GroundRing> gone;         ///< places where the paint is gone, the finder's map too
  double grain = 8;                     ///< standard deviation of the pavement's grey values
  unsigned seed = 1;
};

struct PaintedPhoto {
  Photo photo;
  PaintMap map;
  Ground ground;
};

/// Seen by a camera whose picture centre looks at ground (0, 0).
PaintedPhoto paint_photo(const PaintedScene& scene);

/// What `find_markings` finds there, as if a scale sheet had settled the scale.
std::vector<Footprint> found_in(PaintedPhoto painted);
std::vector<Footprint> found_in(const PaintedScene& scene);

GroundRing rectangle(GroundPoint middle, double length_mm, double width_mm, double angle_rad);

/// Intersection over union of two sets of rings on the ground, by counting cells of `cell_mm`.
double overlap(const std::vector<GroundRing>& a, const std::vector<GroundRing>& b, double cell_mm = 5);

}  // namespace lotwear::testing
