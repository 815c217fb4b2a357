#include "ground/sheet_pose.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/calib3d.hpp>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr double kDegree = std::numbers::pi / 180;
constexpr double kFocalKnown = 0.02;    // EXIF rounds the 35 mm equivalent to whole millimetres: 0.5 in 26
constexpr double kFocalGuessed = 0.15;  // main cameras of phones lie between 23 and 29 mm; other cameras do not
constexpr double kFocalDoubted = 0.5;   // a cropped or enlarged picture
constexpr double kShrinkPx = 0.5;       // glare of burnt-out paper and ink move an edge by some tenths
constexpr double kLensBend = 0.01;      // phones straighten their pictures; about a percent at the corners is left
constexpr double kLiftMm = 0.3;         // sheets lie flat, or an edge stands up by any number of millimetres: a Cauchy
                                        // prior; into the pavement none sinks: the same width, but normal
constexpr double kFlatMm = 0.3;         // how far a sheet that looks flat may be from it
constexpr double kPrintError = 0.003;   // printers at "100 %" differ by some tenths of a percent
constexpr double kHuber = 2.5;          // residuals beyond count linearly
constexpr int kRounds = 40;

using Normal = cv::Matx<double, kSheetUnknowns, kSheetUnknowns>;

struct Priors {
  SheetUnknowns mean, sigma;

  static bool heavy_tailed(const SheetUnknowns& u, int i) { return i >= kLiftRight && u[i] > 0; }

  /// Twice the negative log probability, up to a constant.
  double cost(const SheetUnknowns& u, int i) const {
    const double off = (u[i] - mean[i]) / sigma[i];
    return heavy_tailed(u, i) ? 2 * std::log1p(off * off) : off * off;
  }
  /// Width of the normal distribution that pulls as hard.
  double width(const SheetUnknowns& u, int i) const {
    return heavy_tailed(u, i) ? std::sqrt((sigma[i] * sigma[i] + u[i] * u[i]) / 2) : sigma[i];
  }
};

Priors priors(const Camera& camera, double focal_sigma) {
  Priors p;
  p.mean[kPitch] = 45 * kDegree;
  p.mean[kLogFocal] = std::log(camera.focal_px);
  p.mean[kLogHeight] = std::log(1500.0);
  // Only what keeps the two mirrored answers of a small, far sheet apart: a phone is held nearly level sideways.
  p.sigma = SheetUnknowns::all(kLiftMm);
  p.sigma[kPitch] = 30 * kDegree;
  p.sigma[kLean] = 8 * kDegree;
  p.sigma[kLogFocal] = focal_sigma;
  p.sigma[kLogHeight] = 0.7;
  p.sigma[kYaw] = p.sigma[kShiftX] = p.sigma[kShiftY] = 100;
  p.sigma[kShrink] = kShrinkPx;
  p.sigma[kBend] = kLensBend;
  return p;
}

class Fitting {
 public:
  Fitting(const std::vector<SheetCorner>& corners, const Priors& prior, cv::Size photo, cv::Size2d paper_mm)
      : corners_(corners), prior_(prior), photo_(photo), paper_mm_(paper_mm) {}

  SheetModel model(const SheetUnknowns& u) const { return {u, photo_, paper_mm_}; }
  const Priors& prior() const { return prior_; }

  /// Residuals over their errors, x and y of every corner.
  std::vector<double> residuals(const SheetUnknowns& u) const {
    const SheetPicture picture(model(u));
    std::vector<double> r;
    r.reserve(2 * corners_.size());
    for (const SheetCorner& c : corners_) {
      const ImagePoint off = picture.corner(c) - c.seen;
      r.push_back(off.x / c.error_px);
      r.push_back(off.y / c.error_px);
    }
    return r;
  }

  double cost(const SheetUnknowns& u) const {
    if (std::abs(u[kPitch]) > 1.6 || std::abs(u[kLean]) > 1.5) return 1e300;
    double sum = 0;
    for (const double r : residuals(u))
      sum += std::abs(r) < kHuber ? r * r : kHuber * (2 * std::abs(r) - kHuber);
    for (int i = 0; i < kSheetUnknowns; ++i)
      sum += prior_.cost(u, i);
    return sum;
  }

  struct Linear {
    Normal normal = Normal::zeros();  ///< of the data alone
    SheetUnknowns gradient;           ///< with the priors
  };
  Linear linearised(const SheetUnknowns& u) const {
    const std::vector<double> r = residuals(u);
    std::vector<std::vector<double>> derivative;
    for (int i = 0; i < kSheetUnknowns; ++i) {
      constexpr double kStep = 1e-6;
      SheetUnknowns up = u;
      up[i] += kStep;
      derivative.push_back(residuals(up));
      for (std::size_t k = 0; k < r.size(); ++k)
        derivative.back()[k] = (derivative.back()[k] - r[k]) / kStep;
    }
    Linear linear;
    for (std::size_t k = 0; k < r.size(); ++k) {
      const double weight = std::abs(r[k]) < kHuber ? 1 : kHuber / std::abs(r[k]);
      for (std::size_t i = 0; i < derivative.size(); ++i) {
        const double di = weight * derivative[i][k];
        linear.gradient[static_cast<int>(i)] += di * r[k];
        for (std::size_t j = 0; j <= i; ++j) {
          linear.normal(static_cast<int>(i), static_cast<int>(j)) += di * derivative[j][k];
        }
      }
    }
    for (int i = 0; i < kSheetUnknowns; ++i) {
      for (int j = 0; j < i; ++j)
        linear.normal(j, i) = linear.normal(i, j);
      const double width = prior_.width(u, i);
      linear.gradient[i] += (u[i] - prior_.mean[i]) / (width * width);
    }
    return linear;
  }

 private:
  const std::vector<SheetCorner>& corners_;
  Priors prior_;
  cv::Size photo_;
  cv::Size2d paper_mm_;
};

struct Solution {
  SheetUnknowns at;
  double cost = 1e300;
};

/// Levenberg-Marquardt.
Solution descend(const Fitting& fitting, SheetUnknowns u) {
  double cost = fitting.cost(u), damping = 1e-3;
  for (int round = 0; round < kRounds; ++round) {
    const Fitting::Linear linear = fitting.linearised(u);
    bool better = false, settled = false;
    for (int attempt = 0; attempt < 8 && !better; ++attempt) {
      Normal damped = linear.normal;
      for (int i = 0; i < kSheetUnknowns; ++i) {
        const double width = fitting.prior().width(u, i);
        damped(i, i) = (damped(i, i) + 1 / (width * width)) * (1 + damping);
      }
      const SheetUnknowns next = u - damped.solve(linear.gradient, cv::DECOMP_CHOLESKY);
      const double there = fitting.cost(next);
      better = there < cost;
      damping *= better ? 0.2 : 5;
      if (!better) continue;
      settled = cost - there < 1e-6 * (1 + cost);
      u = next;
      cost = there;
    }
    if (!better || settled) break;
  }
  return {u, cost};
}

/// Both poses that a flat target allows, as starting points.
std::vector<SheetUnknowns> starts(const std::vector<SheetCorner>& corners, double focal, cv::Size photo) {
  std::vector<cv::Point3d> on_sheet;
  std::vector<cv::Point2d> seen;
  for (const SheetCorner& c : corners) {
    on_sheet.emplace_back(c.x_mm, c.y_mm, 0);
    seen.emplace_back(c.seen.x, c.seen.y);
  }
  const double cx = photo.width / 2.0, cy = photo.height / 2.0;
  const cv::Matx33d camera(focal, 0, cx, 0, focal, cy, 0, 0, 1);
  std::vector<cv::Mat> turns, shifts;
  cv::solvePnPGeneric(on_sheet, seen, camera, cv::noArray(), turns, shifts, false, cv::SOLVEPNP_IPPE);
  std::vector<SheetUnknowns> found;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    cv::Matx33d turn;
    cv::Rodrigues(turns[i], turn);
    const cv::Vec3d shift(shifts[i].at<double>(0), shifts[i].at<double>(1), shifts[i].at<double>(2));
    const cv::Vec3d down(turn(0, 2), turn(1, 2), turn(2, 2));
    const double height = down.dot(shift);
    if (!(height > 0) || !(down[2] > 0)) continue;  // seen from below
    SheetUnknowns u;
    u[kLean] = std::asin(std::clamp(down[0], -1.0, 1.0));
    u[kPitch] = std::atan2(down[1], down[2]);
    u[kLogFocal] = std::log(focal);
    u[kLogHeight] = std::log(height);
    const Ground ground = ground_of({u[kPitch], u[kLean], u[kLogFocal], u[kLogHeight]}, photo);
    const auto on_ground = [&](double x) {
      const cv::Vec3d p = turn * cv::Vec3d(x, 0, 0) + shift;
      return ground.ground_from_image({focal * p[0] / p[2] + cx, focal * p[1] / p[2] + cy});
    };
    const GroundPoint origin = on_ground(0), right = on_ground(100);
    u[kYaw] = std::atan2(right.y - origin.y, right.x - origin.x);
    u[kShiftX] = origin.x / height;
    u[kShiftY] = origin.y / height;
    found.push_back(u);
  }
  return found;
}

std::optional<Solution> best(const Fitting& fitting, const std::vector<SheetUnknowns>& from) {
  std::optional<Solution> chosen;
  for (const SheetUnknowns& start : from) {
    const Solution solution = descend(fitting, start);
    if (!chosen || solution.cost < chosen->cost) chosen = solution;
  }
  return chosen;
}

SheetPose with_errors(const Fitting& fitting, const SheetUnknowns& at) {
  double squares = 0;
  const std::vector<double> residuals = fitting.residuals(at);
  for (const double r : residuals)
    squares += r * r;
  const double freedom = std::max(4.0, static_cast<double>(residuals.size()) - static_cast<int>(kSheetUnknowns));
  SheetPose pose;
  pose.model = fitting.model(at);
  pose.misfit = std::sqrt(squares / freedom);
  Normal information = fitting.linearised(at).normal * (1 / std::max(1.0, pose.misfit * pose.misfit));
  for (int i = 0; i < kSheetUnknowns; ++i) {
    // A lift is known no better than it is large: paper curls in more ways than these four.
    const double width = i >= kLiftRight ? std::max(kFlatMm, std::abs(at[i])) : fitting.prior().sigma[i];
    information(i, i) += 1 / (width * width);
  }
  const Normal covariance = information.inv(cv::DECOMP_CHOLESKY);
  pose.belief = {pose.model.view(), covariance.get_minor<4, 4>(0, 0)};
  pose.belief.covariance(3, 3) += kPrintError * kPrintError;
  return pose;
}

}  // namespace

std::optional<SheetPose> sheet_pose(const std::vector<SheetCorner>& corners, const Camera& camera, cv::Size photo,
                                    cv::Size2d paper_mm) {
  require(corners.size() >= 4, "a pose needs four corners");
  const std::vector<SheetUnknowns> from = starts(corners, camera.focal_px, photo);
  const double focal_sigma = camera.focal_known ? kFocalKnown : kFocalGuessed;
  const Fitting fitting(corners, priors(camera, focal_sigma), photo, paper_mm);
  const auto solution = best(fitting, from);
  if (!solution) return std::nullopt;
  // A focal length that the corners pull at is doubted, and given up when they do much better without it.
  if (fitting.prior().cost(solution->at, kLogFocal) > 4) {
    const Fitting doubting(corners, priors(camera, kFocalDoubted), photo, paper_mm);
    std::vector<SheetUnknowns> again = from;
    again.push_back(solution->at);
    const auto freed = best(doubting, again);
    if (freed) {
      const SheetPose without = with_errors(doubting, freed->at);
      if (solution->cost - freed->cost > 16 * std::max(1.0, without.misfit * without.misfit)) return without;
    }
  }
  return with_errors(fitting, solution->at);
}

}  // namespace lotwear
