#pragma once
// What a photo's edges can tell of the view, as three free numbers: the pose. The camera's height is no part of it:
// edges look the same from any height, and sizes give the height once the pose is tried (pose_posterior).

#include <cmath>
#include <opencv2/core/matx.hpp>

#include "ground/view.hpp"

namespace lotwear {

/// Pitch and lean, radians; logarithm of the focal length, of pixels. In View's order.
using Pose = cv::Vec3d;
inline constexpr int kPoseUnknowns = 3;

/// Its height does not count.
inline View view_of(const Pose& p) { return {p[0], p[1], p[2], 0}; }

/// 0 beyond six standard deviations. In the header: it runs for every pair of edges at every pose tried.
inline double normal_density(double d, double variance) {
  constexpr double kRootTwoPi = 2.5066282746310002;
  const double half_square = d * d / (2 * variance);
  return half_square > 18 ? 0 : std::exp(-half_square) / (kRootTwoPi * std::sqrt(variance));
}

}  // namespace lotwear
