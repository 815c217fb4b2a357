#include "ground/pose_search.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

constexpr double kDegree = std::numbers::pi / 180;
constexpr double kGridStep = 2 * kDegree, kBluntGrid = 1.6 * kDegree, kBluntMiddle = 0.7 * kDegree;
constexpr double kLowestGridPitch = -9 * kDegree, kMostGridLean = 10 * kDegree;
constexpr std::size_t kRivals = 6;

/// Hilltops of the blunt landscape, highest first.
std::vector<PoseFound> grid_tops(const PosePosterior& posterior, const ViewPrior& prior) {
  const View& m = prior.belief.view;
  const double focal_sigma = std::sqrt(prior.belief.covariance(2, 2));
  std::vector<double> focals{m.log_focal};
  if (focal_sigma > 0.05) {
    for (const double by : {-1.2, -0.6, 0.6, 1.2})
      focals.push_back(m.log_focal + by * focal_sigma);
  }
  const int pitches = static_cast<int>((PosePrior::kHighestPitch - kLowestGridPitch) / kGridStep) + 1;
  const int leans = 2 * static_cast<int>(kMostGridLean / kGridStep) + 1;
  std::vector<PoseFound> tops;
  for (const double focal : focals) {
    cv::Mat_<double> value(pitches, leans);
    const auto pose = [&](int i, int j) {
      return Pose(kLowestGridPitch + i * kGridStep, (j - leans / 2) * kGridStep, focal);
    };
    for (int i = 0; i < pitches; ++i) {
      for (int j = 0; j < leans; ++j)
        value(i, j) = posterior.log_probability(pose(i, j), kBluntGrid);
    }
    cv::Mat around;
    cv::dilate(value, around, cv::Mat::ones(3, 3, CV_8U));
    for (int i = 0; i < pitches; ++i) {
      for (int j = 0; j < leans; ++j) {
        if (value(i, j) >= around.at<double>(i, j)) tops.push_back({pose(i, j), value(i, j)});
      }
    }
  }
  std::stable_sort(tops.begin(), tops.end(),
                   [](const PoseFound& a, const PoseFound& b) { return a.log_probability > b.log_probability; });
  std::vector<PoseFound> apart;
  for (const PoseFound& a : tops) {
    const bool near = std::any_of(apart.begin(), apart.end(), [&](const PoseFound& b) {
      return std::hypot(a.at[0] - b.at[0], a.at[1] - b.at[1]) < 2.5 * kGridStep;
    });
    if (!near) apart.push_back(a);
    if (apart.size() == kRivals) break;
  }
  return apart;
}

}  // namespace

PoseFound climb(const PosePosterior& posterior, Pose at, double first_step, double last_step, double blunt,
                const std::vector<Pose>& ways) {
  PoseFound best{at, posterior.log_probability(at, blunt)};
  for (double step = first_step; step > last_step; step /= 2) {
    for (bool moved = true; moved;) {
      moved = false;
      for (const Pose& way : ways) {
        for (const double sign : {1.0, -1.0}) {
          const Pose next = best.at + way * (sign * step);
          const double there = posterior.log_probability(next, blunt);
          if (there <= best.log_probability + 1e-9) continue;
          best = {next, there};
          moved = true;
        }
      }
    }
  }
  return best;
}

std::vector<Pose> all_ways(double focal_step) {
  return {Pose(1, 0, 0),  Pose(0, 1, 0),          Pose(0, 0, focal_step), Pose(1, 1, 0),
          Pose(1, -1, 0), Pose(1, 0, focal_step), Pose(1, 0, -focal_step)};
}

std::vector<PoseFound> hand_held_poses(const PosePosterior& posterior, const ViewPrior& prior,
                                       const std::vector<Pose>& ways) {
  std::vector<PoseFound> found;
  for (const PoseFound& start : grid_tops(posterior, prior)) {
    const PoseFound middle = climb(posterior, start.at, 1 * kDegree, 0.2 * kDegree, kBluntMiddle, ways);
    found.push_back(climb(posterior, middle.at, 0.5 * kDegree, 0.01 * kDegree, 0, ways));
  }
  return found;
}

PoseFound pose_near(const PosePosterior& posterior, const ViewPrior& prior, const std::vector<Pose>& ways) {
  const View& m = prior.belief.view;
  const cv::Matx44d& c = prior.belief.covariance;
  const double first = 2 * std::sqrt(std::max(c(0, 0), c(1, 1)));
  return climb(posterior, {m.pitch, m.lean, m.log_focal}, first, first / 300, 0, ways);
}

}  // namespace lotwear
