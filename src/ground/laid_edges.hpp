#pragma once
// Straight edges of the photo laid on the ground of one pose, and how well their directions agree there. Seen edges are
// given in photo pixels, their directions on the ground in radians; likelihoods are natural logarithms of densities per
// angle in the photo, as per angle on the ground the flattest view would seem to make all edges agree. Every edge
// counts as a mixture of a shared direction and any direction at all, so none can spoil the answer; an edge must have
// two different ends.

#include <cmath>
#include <numbers>
#include <opencv2/core/matx.hpp>
#include <opencv2/core/types.hpp>
#include <vector>

#include "base/geometry.hpp"
#include "ground/edge_line.hpp"
#include "ground/pose.hpp"

namespace lotwear {

/// An edge as rays relative to a focal length of one pixel: scaled by the focal length when a pose is tried.
struct SeenEdge {
  ImagePoint middle, along;  ///< from the photo's middle; unit direction
  double offset_error = 0, angle_error = 0;
};
/// With what a lens's bend adds to the error of its direction.
SeenEdge seen_edge(const EdgeLine& edge, cv::Size photo);

/// An edge's direction on the ground.
struct Laid {
  double direction = 0, variance = 0;
  double squeeze = 0;  ///< how much the direction on the ground turns with the direction in the photo
};

/// The ground of one pose, to lay edges on.
class PoseGround {
 public:
  explicit PoseGround(const Pose& p);

  /// `blunt`: at least this error of the direction on the ground, radians.
  Laid laid(const SeenEdge& e, double blunt) const;

 private:
  double direction(ImagePoint middle, ImagePoint along) const;

  double focal_;
  cv::Vec3d down_, ex_, ey_;
};

/// The angle `a` between two lines, whichever way each runs: radians, brought into [-90, 90) degrees.
inline double line_angle(double a) {
  constexpr double kPi = std::numbers::pi;
  return a - kPi * std::floor(a / kPi + 0.5);
}

/// How well directions of strangers agree: shared with, or square to, some other edge's. 0 with fewer than two.
double log_agreement(const std::vector<Laid>& laid, double blunt);

}  // namespace lotwear
