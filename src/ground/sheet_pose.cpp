#include "ground/sheet_pose.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/calib3d.hpp>

#include "base/trouble.hpp"
#include "ground/opencv_points.hpp"

namespace lotwear {

namespace {

constexpr double kDegree = std::numbers::pi / 180;
constexpr double kFocalKnown = 0.02;    // EXIF rounds the 35 mm equivalent to whole millimetres: 0.5 in 26
constexpr double kFocalGuessed = 0.15;  // main cameras of phones lie between 23 and 29 mm; other cameras do not
constexpr double kFocalDoubted = 0.5;   // a cropped or enlarged picture
constexpr double kInkSpreadMm = 0.4;    // ink and glare move an edge by some tenths
constexpr double kPrintError = 0.003;   // printers at "100 %" differ by some tenths of a percent
constexpr double kBend = 0.01;          // phones straighten their pictures; about a percent at the corners is left
constexpr double kHuber = 2.5;          // residuals beyond count linearly
constexpr int kRounds = 40;

/// Pitch, lean, log focal, log height, then what only the sheet needs.
enum Unknown { pitch, lean, log_focal, log_height, yaw, shift_x, shift_y, spread, bend, kUnknowns };
using Unknowns = cv::Vec<double, kUnknowns>;
using Normal = cv::Matx<double, kUnknowns, kUnknowns>;

View view_in(const Unknowns& u) { return {u[pitch], u[lean], u[log_focal], u[log_height]}; }

/// Sheet millimetres to ground millimetres.
GroundPoint laid_down(const Unknowns& u, double x, double y) {
  const double c = std::cos(u[yaw]), s = std::sin(u[yaw]), h = std::exp(u[log_height]);
  return {c * x - s * y + h * u[shift_x], s * x + c * y + h * u[shift_y]};
}

struct Priors {
  Unknowns mean, sigma;
};

Priors priors(const Camera& camera, double focal_sigma) {
  Priors p;
  p.mean = Unknowns(45 * kDegree, 0, std::log(camera.focal_px), std::log(1500.0), 0, 0, 0, 0, 0);
  // Only what keeps the two mirrored answers of a small, far sheet apart: a phone is held nearly level sideways.
  p.sigma = Unknowns(30 * kDegree, 8 * kDegree, focal_sigma, 0.7, 100, 100, 100, kInkSpreadMm, kBend);
  return p;
}

class Fitting {
 public:
  Fitting(const std::vector<SheetCorner>& corners, const Priors& prior, cv::Size photo)
      : corners_(corners), prior_(prior), photo_(photo) {}

  /// Residuals over their errors, x and y of every corner.
  std::vector<double> residuals(const Unknowns& u) const {
    const Ground ground = ground_of(view_in(u), photo_);
    std::vector<double> r;
    r.reserve(2 * corners_.size());
    for (const SheetCorner& c : corners_) {
      const GroundPoint g = laid_down(u, c.x_mm + u[spread] * c.inward_x, c.y_mm + u[spread] * c.inward_y);
      const ImagePoint p =
          ground.image_from_ground.depth(g) > 0 ? bent(u, ground.image_from_ground(g)) : ImagePoint{1e6, 1e6};
      r.push_back((p.x - c.seen.x) / c.error_px);
      r.push_back((p.y - c.seen.y) / c.error_px);
    }
    return r;
  }

  double cost(const Unknowns& u) const {
    if (std::abs(u[pitch]) > 1.6 || std::abs(u[lean]) > 1.5) return 1e300;
    double sum = 0;
    for (const double r : residuals(u))
      sum += std::abs(r) < kHuber ? r * r : kHuber * (2 * std::abs(r) - kHuber);
    for (int i = 0; i < kUnknowns; ++i) {
      const double d = (u[i] - prior_.mean[i]) / prior_.sigma[i];
      sum += d * d;
    }
    return sum;
  }

  /// Normal matrix and gradient; `trust` scales the data against the priors.
  void linearise(const Unknowns& u, double trust, Normal& normal, Unknowns& gradient) const {
    const std::vector<double> r = residuals(u);
    std::vector<std::vector<double>> derivative;
    for (int i = 0; i < kUnknowns; ++i) {
      const double step = 1e-6;
      Unknowns up = u, low = u;
      up[i] += step;
      low[i] -= step;
      std::vector<double> d = residuals(up);
      const std::vector<double> before = residuals(low);
      for (std::size_t k = 0; k < d.size(); ++k)
        d[k] = (d[k] - before[k]) / (2 * step);
      derivative.push_back(std::move(d));
    }
    normal = Normal::zeros();
    gradient = Unknowns::all(0);
    for (std::size_t k = 0; k < r.size(); ++k) {
      const double weight = trust * (std::abs(r[k]) < kHuber ? 1 : kHuber / std::abs(r[k]));
      for (int i = 0; i < kUnknowns; ++i) {
        const double di = derivative[static_cast<std::size_t>(i)][k];
        gradient[i] += weight * di * r[k];
        for (int j = 0; j <= i; ++j)
          normal(i, j) += weight * di * derivative[static_cast<std::size_t>(j)][k];
      }
    }
    for (int i = 0; i < kUnknowns; ++i) {
      for (int j = 0; j < i; ++j)
        normal(j, i) = normal(i, j);
      normal(i, i) += 1 / (prior_.sigma[i] * prior_.sigma[i]);
      gradient[i] += (u[i] - prior_.mean[i]) / (prior_.sigma[i] * prior_.sigma[i]);
    }
  }

 private:
  /// Radial distortion: out by `bend` times the cube of the distance from the middle, in focal lengths.
  ImagePoint bent(const Unknowns& u, ImagePoint p) const {
    const ImagePoint middle{photo_.width / 2.0, photo_.height / 2.0}, d = p - middle;
    return middle + d * (1 + u[bend] * dot(d, d) * std::exp(-2 * u[log_focal]));
  }

  const std::vector<SheetCorner>& corners_;
  const Priors& prior_;
  cv::Size photo_;
};

struct Solution {
  Unknowns at;
  double cost = 1e300;
};

/// Levenberg-Marquardt.
Solution descend(const Fitting& problem, Unknowns u) {
  double cost = problem.cost(u), damping = 1e-3;
  for (int round = 0; round < kRounds; ++round) {
    Normal normal;
    Unknowns gradient;
    problem.linearise(u, 1, normal, gradient);
    bool better = false;
    for (int attempt = 0; attempt < 8 && !better; ++attempt) {
      Normal damped = normal;
      for (int i = 0; i < kUnknowns; ++i)
        damped(i, i) *= 1 + damping;
      const Unknowns next = u - damped.solve(gradient, cv::DECOMP_CHOLESKY);
      const double there = problem.cost(next);
      better = there < cost;
      damping *= better ? 0.2 : 5;
      if (better) {
        const double gain = cost - there;
        u = next;
        cost = there;
        if (gain < 1e-9 * (1 + cost)) return {u, cost};
      }
    }
    if (!better) break;
  }
  return {u, cost};
}

/// Both poses that a flat target allows, as starting points.
std::vector<Unknowns> starts(const std::vector<SheetCorner>& corners, double focal, cv::Size photo) {
  std::vector<cv::Point3d> on_sheet;
  std::vector<cv::Point2d> seen;
  for (const SheetCorner& c : corners) {
    on_sheet.emplace_back(c.x_mm, c.y_mm, 0);
    seen.push_back({c.seen.x, c.seen.y});
  }
  const cv::Matx33d camera(focal, 0, photo.width / 2.0, 0, focal, photo.height / 2.0, 0, 0, 1);
  std::vector<cv::Mat> turns, shifts;
  cv::solvePnPGeneric(on_sheet, seen, camera, cv::noArray(), turns, shifts, false, cv::SOLVEPNP_IPPE);
  std::vector<Unknowns> found;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    cv::Matx33d turn;
    cv::Rodrigues(turns[i], turn);
    const cv::Vec3d shift(shifts[i].at<double>(0), shifts[i].at<double>(1), shifts[i].at<double>(2));
    const cv::Vec3d down(turn(0, 2), turn(1, 2), turn(2, 2));
    const double height = down.dot(shift);
    if (!(height > 0) || !(down[2] > 0)) continue;  // seen from below
    Unknowns u;
    u[lean] = std::asin(std::clamp(down[0], -1.0, 1.0));
    u[pitch] = std::atan2(down[1], down[2]);
    u[log_focal] = std::log(focal);
    u[log_height] = std::log(height);
    const Ground ground = ground_of(view_in(u), photo);
    const auto on_ground = [&](double x, double y) {
      const cv::Vec3d p = turn * cv::Vec3d(x, y, 0) + shift;
      return ground.ground_from_image(
          {focal * p[0] / p[2] + photo.width / 2.0, focal * p[1] / p[2] + photo.height / 2.0});
    };
    const GroundPoint origin = on_ground(0, 0), right = on_ground(100, 0);
    u[yaw] = std::atan2(right.y - origin.y, right.x - origin.x);
    u[shift_x] = origin.x / height;
    u[shift_y] = origin.y / height;
    found.push_back(u);
  }
  return found;
}

std::optional<Solution> best(const std::vector<SheetCorner>& corners, const Camera& camera, double focal_sigma,
                             cv::Size photo) {
  const Priors prior = priors(camera, focal_sigma);
  const Fitting problem(corners, prior, photo);
  std::optional<Solution> chosen;
  for (const Unknowns& start : starts(corners, camera.focal_px, photo)) {
    const Solution solution = descend(problem, start);
    if (!chosen || solution.cost < chosen->cost) chosen = solution;
  }
  return chosen;
}

ImageFromGround image_from_sheet(const Unknowns& u, cv::Size photo) {
  const Ground ground = ground_of(view_in(u), photo);
  const cv::Matx33d image(ground.image_from_ground.matrix().data());
  const GroundPoint o = laid_down(u, 0, 0);
  const double c = std::cos(u[yaw]), s = std::sin(u[yaw]);
  const cv::Matx33d h = image * cv::Matx33d(c, -s, o.x, s, c, o.y, 0, 0, 1);
  std::array<double, 9> row_major{};
  std::copy(h.val, h.val + 9, row_major.begin());
  return ImageFromGround(row_major);
}

}  // namespace

ImagePoint in_photo(const SheetPose& pose, GroundPoint on_sheet) {
  const ImagePoint out = pose.image_from_sheet(on_sheet) - pose.middle;
  return pose.middle + out * (1 + pose.bend * dot(out, out));
}

std::optional<SheetPose> sheet_pose(const std::vector<SheetCorner>& corners, const Camera& focal, cv::Size photo) {
  require(corners.size() >= 4, "a pose needs four corners");
  double focal_sigma = focal.focal_known ? kFocalKnown : kFocalGuessed;
  auto solution = best(corners, focal, focal_sigma, photo);
  if (!solution) return std::nullopt;
  // A focal length that the corners contradict (the picture was cropped) is given up; 4 standard errors are no chance.
  if (const auto freed = best(corners, focal, kFocalDoubted, photo)) {
    const double pull = (freed->at[log_focal] - std::log(focal.focal_px)) / focal_sigma;
    if (std::abs(pull) > 3 && solution->cost - freed->cost > 16) {
      focal_sigma = kFocalDoubted;
      solution = freed;
    }
  }
  const Priors prior = priors(focal, focal_sigma);
  const Fitting problem(corners, prior, photo);
  double squares = 0, worst = 0;
  const std::vector<double> residuals = problem.residuals(solution->at);
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    squares += residuals[i] * residuals[i];
    worst = std::max(worst, std::abs(residuals[i]) * corners[i / 2].error_px);
  }
  const double freedom = std::max(1.0, static_cast<double>(residuals.size()) - static_cast<int>(kUnknowns));
  const double misfit = std::sqrt(squares / freedom);
  Normal normal;
  Unknowns gradient;
  problem.linearise(solution->at, 1 / std::max(1.0, misfit * misfit), normal, gradient);
  const Normal covariance = normal.inv(cv::DECOMP_CHOLESKY);
  SheetPose pose;
  pose.belief = {view_in(solution->at), covariance.get_minor<4, 4>(0, 0)};
  pose.image_from_sheet = image_from_sheet(solution->at, photo);
  pose.middle = {photo.width / 2.0, photo.height / 2.0};
  pose.bend = solution->at[bend] * std::exp(-2 * solution->at[log_focal]);
  pose.spread_mm = solution->at[spread];
  pose.misfit = misfit;
  pose.worst_px = worst;
  pose.belief.covariance(log_height, log_height) += kPrintError * kPrintError;
  return pose;
}

}  // namespace lotwear
