#pragma once
// A straight edge between two materials, located to a fraction of a pixel on the full-resolution photo.
// 1. profiles across the expected edge, in linear light, so that blur does not push the edge to the dark side
// 2. all three channels, weighted by how the two sides differ: blue on asphalt has an edge too
// 3. half-way crossing of every profile between its own two levels: a shadow across the edge changes nothing
// 4. robust line through the crossings; its spread along the edge gives the line's error

#include <optional>

#include "base/geometry.hpp"
#include "capture/photo.hpp"

namespace lotwear {

/// Line from `from` to `to`, photo pixels. Left is the left hand of who walks so in the picture, y down.
struct EdgeLine {
  ImagePoint from, to;
  double offset_error = 0;     ///< one standard deviation of where the line's middle lies across the line, pixels
  double angle_error = 0;      ///< one standard deviation of its direction, radians
  double crossings = 0;        ///< share of the profiles that cross half-way and agree with the line
  double left_over_right = 1;  ///< luminance of the left side over the right side, linear light
};

struct EdgeSearch {
  double reach_px = 4;            ///< half a profile's length; both materials must fill their side of it
  int most_profiles = 48;         ///< per edge; more cost time and gain little: neighbours share their blur
  double least_difference = 0.1;  ///< |left - right| over (left + right) in linear light; texture reaches 0.05
  double least_crossings = 0.3;   ///< of all profiles; less is a line through noise
};

/// The edge near the segment `a` `b`; nothing when too few profiles show one.
std::optional<EdgeLine> fit_edge(const Photo& photo, ImagePoint a, ImagePoint b, const EdgeSearch& search);

/// Where two lines meet; nothing when they are nearly parallel.
std::optional<ImagePoint> meeting(const EdgeLine& a, const EdgeLine& b);

}  // namespace lotwear
