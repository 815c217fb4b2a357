#include "ground/view_prior.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi, kDegree = kPi / 180;

// How a phone is held (common practice, no source): from straight down over a symbol at one's feet to well ahead for a
// row of stalls; tails for the photo taken anyhow.
constexpr double kUsualPitch = 35 * kDegree, kPitchSigma = 20 * kDegree, kAnyPitch = 0.15;
constexpr double kLeanSigma = 3 * kDegree, kAnyLeanSigma = 12 * kDegree, kAnyLean = 0.15;
constexpr double kHandHeightMm = 1500, kHandHeightSigma = 0.17;
constexpr double kFocalKnown = 0.02, kFocalGuessed = 0.15;
constexpr double kLowestPitch = -15 * kDegree, kMostLean = 25 * kDegree;

}  // namespace

ViewPrior hand_held(const Camera& camera) {
  ViewPrior prior;
  prior.belief.view = {kUsualPitch, 0, std::log(camera.focal_px), std::log(kHandHeightMm)};
  const double focal = camera.focal_known ? kFocalKnown : kFocalGuessed;
  prior.belief.covariance = cv::Matx44d::diag(
      {kPitchSigma * kPitchSigma, kLeanSigma * kLeanSigma, focal * focal, kHandHeightSigma * kHandHeightSigma});
  return prior;
}

PosePrior::PosePrior(const ViewPrior& prior) : prior_(prior) {
  if (!prior.measured) return;
  const cv::Matx33d shared = prior.belief.covariance.get_minor<3, 3>(0, 0);
  information_ = shared.inv(cv::DECOMP_CHOLESKY);
}

double PosePrior::log_density(const Pose& p) const {
  if (p[0] < kLowestPitch || p[0] > kHighestPitch || std::abs(p[1]) > kMostLean) {
    if (!prior_.measured) return -1e9;
  }
  const View& m = prior_.belief.view;
  const Pose d = p - Pose(m.pitch, m.lean, m.log_focal);
  if (prior_.measured) return -0.5 * d.dot(information_ * d);
  const double pitch = (1 - kAnyPitch) * normal_density(d[0], kPitchSigma * kPitchSigma) + kAnyPitch / kPi;
  const double lean = (1 - kAnyLean) * normal_density(d[1], kLeanSigma * kLeanSigma) +
                      kAnyLean * normal_density(d[1], kAnyLeanSigma * kAnyLeanSigma);
  const double focal = d[2] / std::sqrt(prior_.belief.covariance(2, 2));
  return std::log(pitch) + std::log(std::max(lean, 1e-300)) - focal * focal / 2;
}

}  // namespace lotwear
