#pragma once
// What is believed of the camera before edges and sizes are looked at: the pose of a scale sheet, or how people hold a
// phone. Angles in radians, focal length and height as logarithms of pixels and millimetres.

#include <numbers>

#include "ground/pose.hpp"
#include "ground/view.hpp"

namespace lotwear {

/// What is believed before looking at edges. From a scale sheet: its pose. Otherwise how people hold a phone.
struct ViewPrior {
  ViewBelief belief;
  bool measured = false;  ///< from a sheet: one sharp answer, searched around only; else broad, searched everywhere
};

/// Phone in a hand: any pitch about 35 degrees, little lean, 1.5 m above the ground.
/// Hand height: eye height less a forearm's drop, 1.5 m +- 0.25 m (common practice, no source).
ViewPrior hand_held(const Camera& camera);

/// The prior as a density of poses.
class PosePrior {
 public:
  static constexpr double kHighestPitch = 100 * (std::numbers::pi / 180);  ///< of a phone in a hand

  explicit PosePrior(const ViewPrior& prior);

  /// Natural logarithm, but for a constant; below -1e8 where no hand holds a phone so.
  double log_density(const Pose& p) const;

 private:
  ViewPrior prior_;
  cv::Matx33d information_;  ///< of a sheet's pose
};

}  // namespace lotwear
