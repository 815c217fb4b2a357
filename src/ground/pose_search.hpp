#pragma once
// The most probable poses: a coarse grid with blunt tolerances finds the hilltops, climbing sharpens each. Poses and
// steps in radians (the focal length's step in the logarithm), probabilities as natural logarithms. Exact edges make
// needles that a coarse grid steps over; blunt tolerances widen them.

#include <vector>

#include "ground/pose.hpp"
#include "ground/pose_posterior.hpp"
#include "ground/view_prior.hpp"

namespace lotwear {

struct PoseFound {
  Pose at;
  double log_probability = -1e300;
};

/// Climbs by trying steps both ways along `ways`, halving them from `first_step` to `last_step`.
PoseFound climb(const PosePosterior& posterior, Pose at, double first_step, double last_step, double blunt,
                const std::vector<Pose>& ways);

/// Each unknown alone and pitch together with each other one: where ridges run. `focal_step`: how far the focal
/// length's logarithm goes with a step of one radian.
std::vector<Pose> all_ways(double focal_step);

/// Hilltops of the whole landscape that a hand-held phone may see, climbed to their exact tops; the grid's highest
/// first, six at most.
std::vector<PoseFound> hand_held_poses(const PosePosterior& posterior, const ViewPrior& prior,
                                       const std::vector<Pose>& ways);

/// The hilltop next to a sheet's pose.
PoseFound pose_near(const PosePosterior& posterior, const ViewPrior& prior, const std::vector<Pose>& ways);

}  // namespace lotwear
