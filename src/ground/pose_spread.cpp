#include "ground/pose_spread.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

namespace lotwear {

namespace {

constexpr double kDegree = std::numbers::pi / 180;
constexpr double kRoom = 0.2;  // of the log determinant: see PosePeak

/// Inverse curvature, kept between what the prior allows and what pictures can give.
cv::Matx33d spread_at(const PosePosterior& posterior, const Pose& at, const cv::Vec3d& at_most) {
  const Pose steps(0.15 * kDegree, 0.15 * kDegree, 0.004);
  cv::Matx33d curvature;
  const auto value = [&](const Pose& p) { return -posterior.log_probability(p, 0); };
  for (int i = 0; i < kPoseUnknowns; ++i) {
    for (int j = 0; j <= i; ++j) {
      Pose a, b;
      a[i] = steps[i];
      b[j] = steps[j];
      curvature(i, j) = curvature(j, i) =
          (value(at + a + b) - value(at + a - b) - value(at - a + b) + value(at - a - b)) / (4 * steps[i] * steps[j]);
    }
  }
  // In units of the prior's widths, so that radians and logarithms compare.
  cv::Matx33d scaled;
  for (int i = 0; i < kPoseUnknowns; ++i) {
    for (int j = 0; j < kPoseUnknowns; ++j)
      scaled(i, j) = curvature(i, j) * at_most[i] * at_most[j];
  }
  cv::Vec3d values;
  cv::Matx33d vectors;
  cv::eigen(scaled, values, vectors);
  cv::Matx33d spread = cv::Matx33d::zeros();
  for (int k = 0; k < kPoseUnknowns; ++k) {
    const double variance = 1 / std::clamp(values[k], 1.0, 1e6);
    for (int i = 0; i < kPoseUnknowns; ++i) {
      for (int j = 0; j < kPoseUnknowns; ++j) {
        spread(i, j) += variance * vectors(k, i) * vectors(k, j) * at_most[i] * at_most[j];
      }
    }
  }
  return spread;
}

cv::Vec4d with_height(const Pose& p, double log_height) { return {p[0], p[1], p[2], log_height}; }

/// How the height follows each of the others.
Pose height_slopes(const PosePosterior& posterior, const Pose& at) {
  const Pose steps(0.3 * kDegree, 0.3 * kDegree, 0.01);
  Pose slopes;
  for (int i = 0; i < kPoseUnknowns; ++i) {
    Pose by;
    by[i] = steps[i];
    slopes[i] = (posterior.height(at + by).mean - posterior.height(at - by).mean) / (2 * steps[i]);
  }
  return slopes;
}

/// A spread of poses with the height that goes with them.
cv::Matx44d with_height(const cv::Matx33d& spread, const Pose& slopes) {
  cv::Matx44d whole = cv::Matx44d::zeros();
  const Pose shared = spread * slopes;
  for (int i = 0; i < kPoseUnknowns; ++i) {
    for (int j = 0; j < kPoseUnknowns; ++j)
      whole(i, j) = spread(i, j);
    whole(i, 3) = whole(3, i) = shared[i];
  }
  whole(3, 3) = slopes.dot(shared);
  return whole;
}

}  // namespace

PosePeak peak_at(const PosePosterior& posterior, const PoseFound& top, const cv::Vec3d& at_most) {
  const cv::Matx33d spread = spread_at(posterior, top.at, at_most);
  return {top, spread, top.log_probability + kRoom * std::log(cv::determinant(spread))};
}

PoseRidge along_ridge(const PosePosterior& posterior, const PoseFound& best, const cv::Matx33d& curved,
                      double focal_step) {
  const double sigma = std::sqrt(curved(0, 0));
  const std::vector<Pose> ways{Pose(0, 1, 0), Pose(0, 0, focal_step)};
  std::vector<PoseFound> points{best};
  for (const double side : {-1.0, 1.0}) {
    Pose before = best.at, slope(side, 0, 0);
    double reached = 0;
    for (const double far : {0.5, 1.0, 1.5, 2.0, 3.0, 4.5, 6.5, 10.0, 15.0, 22.0}) {
      const double step = (far - reached) * sigma;
      if (reached > 3 && std::abs(before[0] - best.at[0]) > 40 * kDegree) break;
      const PoseFound here = climb(posterior, before + slope * step, 0.3 * step, 0.03 * step, 0, ways);
      points.push_back(here);
      slope = (here.at - before) * (1 / step);
      before = here.at;
      reached = far;
      if (here.log_probability < best.log_probability - 6) break;
    }
  }
  std::sort(points.begin(), points.end(), [](const PoseFound& a, const PoseFound& b) { return a.at[0] < b.at[0]; });
  double mass = 0;
  Pose mean;
  std::vector<double> weights(points.size(), 0);
  for (std::size_t k = 0; k < points.size(); ++k) {
    const double before = k > 0 ? points[k].at[0] - points[k - 1].at[0] : 0;
    const double after = k + 1 < points.size() ? points[k + 1].at[0] - points[k].at[0] : 0;
    weights[k] = (before + after) / 2 * std::exp(points[k].log_probability - best.log_probability);
    mass += weights[k];
    mean += weights[k] * points[k].at;
  }
  PoseRidge ridge;
  ridge.middle = best.at;
  ridge.spread = cv::Matx44d::zeros();
  constexpr double kFlatTop = 1.5;
  if (mass > 0 && posterior.log_probability(mean * (1 / mass), 0) > best.log_probability - kFlatTop) {
    ridge.middle = mean * (1 / mass);
  }
  ridge.log_height = posterior.height(ridge.middle).middle;
  if (!(mass > 0)) {
    weights.assign(points.size(), 1);
    mass = static_cast<double>(points.size());
  }
  for (std::size_t k = 0; k < points.size(); ++k) {
    const HeightBelief height = posterior.height(points[k].at);
    const cv::Vec4d d = with_height(points[k].at, height.mean) - with_height(ridge.middle, ridge.log_height);
    ridge.spread += weights[k] / mass * (d * d.t());
    ridge.spread(3, 3) += weights[k] / mass * height.variance;
  }
  // Across the ridge the curvature holds: what is left of it once pitch is given.
  cv::Matx33d across = cv::Matx33d::zeros();
  for (int i = 1; i < kPoseUnknowns; ++i) {
    for (int j = 1; j < kPoseUnknowns; ++j)
      across(i, j) = curved(i, j) - curved(i, 0) * curved(0, j) / curved(0, 0);
  }
  ridge.spread += with_height(across, height_slopes(posterior, ridge.middle));
  return ridge;
}

cv::Matx44d spread_of_rivals(const PosePosterior& posterior, const std::vector<PosePeak>& peaks, const PosePeak& best,
                             double width) {
  double weights = 1;
  cv::Matx44d rivals = cv::Matx44d::zeros();
  const cv::Vec4d middle = with_height(best.top.at, posterior.height(best.top.at).mean);
  std::vector<Pose> counted{best.top.at};
  for (const PosePeak& peak : peaks) {
    const bool same = std::any_of(counted.begin(), counted.end(), [&](const Pose& p) {
      return std::abs(p[0] - peak.top.at[0]) < std::max(3 * width, 0.2 * kDegree);
    });
    if (same) continue;
    counted.push_back(peak.top.at);
    const cv::Vec4d d = with_height(peak.top.at, posterior.height(peak.top.at).mean) - middle;
    const double weight = std::exp(peak.log_mass - best.log_mass);
    weights += weight;
    rivals += weight * (d * d.t());
  }
  return rivals * (1 / weights);
}

ViewBelief moved_belief(const ViewBelief& prior, const Pose& at, const cv::Matx33d& spread) {
  const cv::Matx33d before = prior.covariance.get_minor<3, 3>(0, 0);
  const cv::Vec3d shared(prior.covariance(3, 0), prior.covariance(3, 1), prior.covariance(3, 2));
  const cv::Vec3d gain = before.inv(cv::DECOMP_SVD) * shared;
  const cv::Vec3d moved = at - cv::Vec3d(prior.view.pitch, prior.view.lean, prior.view.log_focal);
  ViewBelief after;
  after.view = {at[0], at[1], at[2], prior.view.log_height + gain.dot(moved)};
  after.covariance = cv::Matx44d::zeros();
  const cv::Vec3d with_height = spread * gain;
  for (int i = 0; i < kPoseUnknowns; ++i) {
    for (int j = 0; j < kPoseUnknowns; ++j)
      after.covariance(i, j) = spread(i, j);
    after.covariance(i, 3) = after.covariance(3, i) = with_height[i];
  }
  after.covariance(3, 3) = std::max(0.0, prior.covariance(3, 3) - gain.dot(shared)) + gain.dot(with_height);
  return after;
}

}  // namespace lotwear
