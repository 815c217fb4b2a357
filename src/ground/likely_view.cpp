#include "ground/likely_view.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "ground/pose.hpp"
#include "ground/pose_posterior.hpp"
#include "ground/pose_search.hpp"
#include "ground/pose_spread.hpp"

namespace lotwear {

namespace {

constexpr double kDegree = std::numbers::pi / 180;

}  // namespace

LikelyView likely_view(const ViewPrior& prior, const std::vector<EdgeLine>& edges, const GroundTop& top,
                       cv::Size photo) {
  return likely_view(prior, PaintSeen{edges, {}, {}}, top, photo);
}

LikelyView likely_view(const ViewPrior& prior, const PaintSeen& seen, const GroundTop& top, cv::Size photo) {
  const PosePosterior posterior(prior, seen, top, photo);
  const cv::Matx44d& c = prior.belief.covariance;
  const double focal_step = std::sqrt(c(2, 2)) / (4 * kDegree);
  const std::vector<Pose> ways = all_ways(focal_step);
  const std::vector<PoseFound> answers =
      prior.measured ? std::vector{pose_near(posterior, prior, ways)} : hand_held_poses(posterior, prior, ways);
  const cv::Vec3d at_most(std::sqrt(c(0, 0)), std::sqrt(c(1, 1)), std::sqrt(c(2, 2)));
  std::vector<PosePeak> peaks;
  for (const PoseFound& a : answers)
    peaks.push_back(peak_at(posterior, a, at_most));
  const PosePeak& best = *std::max_element(
      peaks.begin(), peaks.end(), [](const PosePeak& a, const PosePeak& b) { return a.log_mass < b.log_mass; });
  LikelyView likely;
  if (prior.measured) {
    likely.belief = moved_belief(prior.belief, best.top.at, best.spread);
    return likely;
  }
  const PoseRidge ridge = along_ridge(posterior, best.top, best.spread, focal_step);
  likely.belief.view = {ridge.middle[0], ridge.middle[1], ridge.middle[2], ridge.log_height};
  likely.belief.covariance = ridge.spread + spread_of_rivals(posterior, peaks, best, std::sqrt(ridge.spread(0, 0)));
  likely.from_edges = seen.edges.size() + seen.objects.size() >= 1 && likely.belief.covariance(0, 0) < 0.25 * c(0, 0);
  likely.from_sizes = !seen.sizes.families.empty() && likely.belief.covariance(3, 3) < 0.5 * c(3, 3);
  return likely;
}

}  // namespace lotwear
