#include "marking/shape_slide.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

constexpr int kFewestOfContour = 8;  // pixels; less is a speck
constexpr double kSpacing = 2;       // pixels between points of the rim
constexpr int kRounds = 14;
constexpr double kFirstReach = 16, kReachShrinks = 0.85, kLastReach = 3;  // pixels
constexpr double kTurnedAway = 0.3;  // cosine between normals: less is the other side of a shaft
constexpr double kTry = 0.1;         // of a knob, for the derivative
constexpr double kSettled = 0.02;    // of a knob

float distance_at(const cv::Mat& distance, double x, double y) {
  return distance.at<float>(std::clamp(static_cast<int>(std::floor(y)), 0, distance.rows - 1),
                            std::clamp(static_cast<int>(std::floor(x)), 0, distance.cols - 1));
}

/// Least squares of knobs: each equation says how far a point of the rim should move along a direction.
class Equations {
 public:
  Equations(const Rim& rim, std::vector<Rim> tried)
      : rim_(rim),
        tried_(std::move(tried)),
        knobs_(static_cast<int>(tried_.size())),
        normal_(knobs_, knobs_, CV_64F, cv::Scalar(0)),
        right_(knobs_, 1, CV_64F, cv::Scalar(0)),
        row_(tried_.size()) {}

  void ask(std::size_t point, PatchPoint along, double far, double reach) {
    const double weight = std::pow(std::max(0.0, 1 - std::pow(far / (1.5 * reach), 2)), 2);  // Tukey's
    if (weight <= 0) return;
    for (std::size_t j = 0; j < row_.size(); ++j)
      row_[j] = dot(tried_[j].points[point] - rim_.points[point], along) / kTry;
    for (int a = 0; a < knobs_; ++a) {
      const double w = weight * row_[static_cast<std::size_t>(a)];
      for (int b = 0; b < knobs_; ++b)
        normal_.at<double>(a, b) += w * row_[static_cast<std::size_t>(b)];
      right_.at<double>(a) += w * far;
    }
  }

  /// Steps of the knobs; empty when nothing was asked. Proportions and tilt stay near the trade's drawing unless the
  /// outline insists.
  std::vector<double> answer(const std::vector<double>& now) {
    const double trace = cv::trace(normal_)[0] / knobs_;
    if (!(trace > 0)) return {};
    for (int j = 0; j < knobs_; ++j) {
      const bool place = j < static_cast<int>(Knobs::kPlace);
      normal_.at<double>(j, j) += (place ? 1e-3 : 3e-3) * trace;
      if (!place) right_.at<double>(j) -= 5e-4 * trace * now[static_cast<std::size_t>(j)];
    }
    cv::Mat steps;
    if (!cv::solve(normal_, right_, steps, cv::DECOMP_CHOLESKY)) return {};
    std::vector<double> clamped;
    for (int j = 0; j < knobs_; ++j)
      clamped.push_back(std::clamp(steps.at<double>(j), -2.0, 2.0));
    return clamped;
  }

 private:
  const Rim& rim_;
  std::vector<Rim> tried_;
  int knobs_;
  cv::Mat normal_, right_;
  std::vector<double> row_;
};

void ask_rim(Equations& equations, const Rim& rim, const MapOutline& map, double reach) {
  for (std::size_t i = 0; i < rim.points.size(); ++i) {
    const PatchPoint p = rim.points[i];
    const int x = static_cast<int>(std::floor(p.x)), y = static_cast<int>(std::floor(p.y));
    if (x < 1 || y < 1 || x >= map.distance.cols - 1 || y >= map.distance.rows - 1 || map.inside.at<uchar>(y, x) == 0)
      continue;
    const auto at = [&](int c, int r) { return static_cast<double>(map.distance.at<float>(r, c)); };
    const PatchPoint away{(at(x + 1, y) - at(x - 1, y)) / 2, (at(x, y + 1) - at(x, y - 1)) / 2};
    const double steep = length(away);
    if (steep < kTurnedAway) continue;  // as far from one side as from the other
    const double here = at(x, y);
    equations.ask(i, away * (1 / steep), here > 0 ? 0.5 - here : -0.5 - here, reach);
  }
}

void ask_outline(Equations& equations, const Rim& rim, const MapOutline& map, double reach) {
  for (std::size_t q = 0; q < map.points.size(); ++q) {
    std::size_t near = rim.points.size();
    double least = 4 * reach * reach;
    for (std::size_t i = 0; i < rim.points.size(); ++i) {
      if (dot(rim.normals[i], map.normals[q]) < kTurnedAway) continue;
      const PatchPoint d = map.points[q] - rim.points[i];
      if (dot(d, d) < least) least = dot(d, d), near = i;
    }
    if (near < rim.points.size())
      equations.ask(near, rim.normals[near], dot(map.points[q] - rim.points[near], rim.normals[near]), reach);
  }
}

}  // namespace

MapOutline outline_of(const cv::Mat& map, const cv::Mat& inside) {
  MapOutline found;
  found.inside = inside;
  const cv::Mat paint = map > 0.5F;
  cv::Mat padded, to_paint, to_bare;
  cv::copyMakeBorder(paint, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, 0);
  cv::distanceTransform(padded == 0, to_paint, cv::DIST_L2, cv::DIST_MASK_PRECISE, CV_32F);
  cv::distanceTransform(padded, to_bare, cv::DIST_L2, cv::DIST_MASK_PRECISE, CV_32F);
  found.distance = cv::Mat(to_paint - to_bare)(cv::Rect(1, 1, paint.cols, paint.rows)).clone();

  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(paint, contours, cv::RETR_LIST, cv::CHAIN_APPROX_NONE);
  const cv::Rect well(2, 2, map.cols - 4, map.rows - 4);
  for (const std::vector<cv::Point>& contour : contours) {
    const std::size_t n = contour.size();
    if (n < kFewestOfContour) continue;
    for (std::size_t i = 0; i < n; ++i) {
      const cv::Point p = contour[i];
      if (!well.contains(p) || inside.at<uchar>(p) == 0) continue;
      const cv::Point along = contour[(i + 2) % n] - contour[(i + n - 2) % n];
      const PatchPoint d{static_cast<double>(along.x), static_cast<double>(along.y)};
      if (length(d) < 1) continue;
      const PatchPoint middle{p.x + 0.5, p.y + 0.5};
      PatchPoint normal{d.y / length(d), -d.x / length(d)};
      // contours run either way round: the distance tells which side is bare
      const PatchPoint beyond = middle + normal * 2.0;
      if (distance_at(found.distance, beyond.x, beyond.y) < found.distance.at<float>(p)) normal = normal * -1.0;
      found.points.push_back(middle + normal * 0.5);
      found.normals.push_back(normal);
    }
  }
  return found;
}

ShapePose slid(const ShapePose& pose, const Shape& shape, const MapOutline& map, double mm, const Knobs& knobs) {
  Drawing drawing(shape, mm);
  std::vector<int> counts;
  for (const PatchRing& ring : drawing.at(pose))
    counts.push_back(std::clamp(static_cast<int>(perimeter(ring) / kSpacing), 12, 240));
  std::vector<double> v = knobs.pack(pose, shape);
  const auto rim_at = [&](const std::vector<double>& at) {
    return rim_of(drawing.at(knobs.unpack(at, pose, shape)), counts);
  };
  double reach = kFirstReach;
  for (int round = 0; round < kRounds; ++round, reach = std::max(kLastReach, reach * kReachShrinks)) {
    const Rim rim = rim_at(v);
    std::vector<Rim> tried;
    for (std::size_t j = 0; j < v.size(); ++j) {
      std::vector<double> moved = v;
      moved[j] += kTry;
      tried.push_back(rim_at(moved));
    }
    Equations equations(rim, std::move(tried));
    ask_rim(equations, rim, map, reach);
    ask_outline(equations, rim, map, reach);
    const std::vector<double> steps = equations.answer(v);
    double most = 0;
    for (std::size_t j = 0; j < steps.size(); ++j)
      v[j] += steps[j], most = std::max(most, std::abs(steps[j]));
    if (most < kSettled) break;
  }
  return knobs.unpack(v, pose, shape);
}

}  // namespace lotwear
