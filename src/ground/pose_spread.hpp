#pragma once
// How far the truth may be from the most probable pose: curvature around a peak, the length of a ridge along pitch, and
// the chance that a rival peak holds the truth. Covariances are in View's order (pitch, lean, logarithms of focal
// length and height); the height goes along, as what sizes say depends on the tilt.

#include <opencv2/core/matx.hpp>
#include <vector>

#include "ground/pose.hpp"
#include "ground/pose_posterior.hpp"
#include "ground/pose_search.hpp"
#include "ground/view.hpp"

namespace lotwear {

/// A local answer with the probability around it. Few precise edges can always be brought into agreement at some exact
/// pose; what tells such a needle from the truth is how little room there is on it. Full weight for the room would
/// favour poses at which nothing agrees: on synthetic lots half the log determinant costs arrows a factor of five in
/// their 90th percentile, none of it leaves the rare needle.
struct PosePeak {
  PoseFound top;
  cv::Matx33d spread;
  double log_mass = -1e300;
};
/// `at_most`: standard deviations before edges were seen, in the pose's order.
PosePeak peak_at(const PosePosterior& posterior, const PoseFound& top, const cv::Vec3d& at_most);

/// The ridge of the posterior along pitch. Few edges leave a ridge that is long, bent and flat on top; its curvature at
/// the highest point says nothing about its length. The height goes with it: what sizes say depends on the tilt.
struct PoseRidge {
  Pose middle;  ///< the highest point, or the mean where the top is flat
  double log_height = 0;
  cv::Matx44d spread;
};
/// `curved`: the peak's spread.
PoseRidge along_ridge(const PosePosterior& posterior, const PoseFound& best, const cv::Matx33d& curved,
                      double focal_step);

/// What the chance adds that another peak holds the truth. `width`: one standard deviation of the best one's pitch.
cv::Matx44d spread_of_rivals(const PosePosterior& posterior, const std::vector<PosePeak>& peaks, const PosePeak& best,
                             double width);

/// The whole belief once pitch, lean and focal length have moved: the height follows as far as it hangs on them.
ViewBelief moved_belief(const ViewBelief& prior, const Pose& at, const cv::Matx33d& spread);

}  // namespace lotwear
