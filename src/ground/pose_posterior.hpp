#pragma once
// How probable a pose is, given the prior, where the ground ends in the photo, straight edges and painted sizes: the
// landscape that pose_search climbs and pose_spread measures. Natural logarithms, but for a constant; the height,
// logarithm of millimetres, is summed over and given back once a pose is chosen. Nothing can go wrong: a pose that
// no hand holds comes out below -1e8.

#include <opencv2/core/types.hpp>
#include <optional>
#include <vector>

#include "base/geometry.hpp"
#include "ground/ground_top.hpp"
#include "ground/laid_edges.hpp"
#include "ground/laid_object.hpp"
#include "ground/paint_seen.hpp"
#include "ground/pose.hpp"
#include "ground/view_prior.hpp"

namespace lotwear {

class PosePosterior {
 public:
  /// Sizes count where the prior is not measured. `prior` and `top` must outlive it.
  PosePosterior(const ViewPrior& prior, const PaintSeen& seen, const GroundTop& top, cv::Size photo);

  /// `blunt`: at least this error of every direction on the ground, radians.
  double log_probability(const Pose& p, double blunt) const;

  /// The height once a pose is given.
  HeightBelief height(const Pose& p) const;

 private:
  double horizon(const Pose& p) const;
  double edges(const Pose& p, double blunt) const;

  const ViewPrior& prior_;
  const GroundTop& top_;
  cv::Size photo_;
  PosePrior pose_prior_;
  std::vector<SeenEdge> strays_;  ///< edges of what has no drawing
  std::vector<std::vector<ObjectEdge>> objects_;
  std::optional<SizeLikelihood> sizes_;
};

}  // namespace lotwear
