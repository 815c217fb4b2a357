#include "ground/view.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

namespace {

constexpr double kProbe = 0.15;     // of the camera's height: half the length whose error is asked for, about 0.2 m
constexpr double kFlattest = 0.17;  // steepness at 80 degrees, where a pixel is six times as long as wide

/// Logarithms of two lengths at right angles on the ground, both seen between fixed photo points.
struct Probe {
  ImagePoint left, right, near, far;

  Probe(const Ground& ground, ImagePoint at, double reach) {
    const GroundPoint g = ground.ground_from_image(at);
    // Along the line of sight and across it: where a wrong tilt shows most.
    const double away = std::hypot(g.x, g.y);
    const GroundPoint along = away > reach ? g * (reach / away) : GroundPoint{0, reach};
    const GroundPoint across{-along.y, along.x};
    left = ground.image_from_ground(g - across);
    right = ground.image_from_ground(g + across);
    near = ground.image_from_ground(g - along);
    far = ground.image_from_ground(g + along);
  }
  double across(const Ground& ground) const { return measured(ground, left, right); }
  double along(const Ground& ground) const { return measured(ground, near, far); }

 private:
  static double measured(const Ground& ground, ImagePoint a, ImagePoint b) {
    return std::log(length(ground.ground_from_image(a) - ground.ground_from_image(b)));
  }
};

}  // namespace

std::array<double, 3> down_of(const View& view) {
  return {std::sin(view.lean), std::cos(view.lean) * std::sin(view.pitch), std::cos(view.lean) * std::cos(view.pitch)};
}

Ground ground_of(const View& view, cv::Size photo) {
  return ground_from_pose({std::exp(view.log_focal), true}, photo, down_of(view),
                          Millimetres{std::exp(view.log_height)});
}

View moved(const View& view, const cv::Vec4d& by) {
  return {view.pitch + by[0], view.lean + by[1], view.log_focal + by[2], view.log_height + by[3]};
}

double steepness(const View& view, cv::Size photo, ImagePoint at) {
  const auto down = down_of(view);
  const double f = std::exp(view.log_focal);
  const double x = (at.x - photo.width / 2.0) / f, y = (at.y - photo.height / 2.0) / f;
  return (down[0] * x + down[1] * y + down[2]) / std::hypot(x, y, 1.0);
}

LengthErrors length_errors(const ViewBelief& belief, cv::Size photo, const std::vector<ImagePoint>& at) {
  const Ground ground = ground_of(belief.view, photo);
  const double reach = kProbe * std::exp(belief.view.log_height);
  double scale = 0, shape = 0;
  int count = 0;
  for (const ImagePoint p : at) {
    if (steepness(belief.view, photo, p) < kFlattest) continue;
    const Probe probe(ground, p, reach);
    cv::Vec4d across, along;
    constexpr double kStep = 1e-5;
    for (int i = 0; i < 4; ++i) {
      cv::Vec4d by;
      by[i] = kStep;
      const Ground up = ground_of(moved(belief.view, by), photo), low = ground_of(moved(belief.view, -by), photo);
      across[i] = (probe.across(up) - probe.across(low)) / (2 * kStep);
      along[i] = (probe.along(up) - probe.along(low)) / (2 * kStep);
    }
    const auto variance = [&](const cv::Vec4d& of) { return of.dot(belief.covariance * of); };
    scale += (variance(across) + variance(along)) / 2;
    shape += variance(along - across);
    ++count;
  }
  if (count == 0) return {1, 1};
  return {std::sqrt(scale / count), std::sqrt(shape / count)};
}

std::vector<ImagePoint> usual_points(const View& view, cv::Size photo) {
  std::vector<ImagePoint> points;
  for (const double y : {0.3, 0.5, 0.7, 0.9}) {
    for (const double x : {0.25, 0.5, 0.75}) {
      const ImagePoint p{x * photo.width, y * photo.height};
      if (steepness(view, photo, p) > 2 * kFlattest) points.push_back(p);  // out to 70 degrees
    }
  }
  return points;
}

}  // namespace lotwear
