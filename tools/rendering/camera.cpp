#include "rendering/camera.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/shapes_parts.hpp"

namespace lotwear::rendering {

namespace {

ImageFromGround pinhole(const CameraPlan& plan) {
  const double tilt = plan.tilt_deg * shape_parts::kRadiansPerDegree,
               roll = plan.roll_deg * shape_parts::kRadiansPerDegree;
  // ground x right, y towards the photographer, z down into the ground; the camera stands at z = -stand
  const double ahead[3] = {0, -std::sin(tilt), std::cos(tilt)};
  const double level[3] = {1, 0, 0}, below[3] = {0, std::cos(tilt), std::sin(tilt)};
  double right[3], down[3];
  for (int i = 0; i < 3; ++i) {
    right[i] = std::cos(roll) * level[i] + std::sin(roll) * below[i];
    down[i] = -std::sin(roll) * level[i] + std::cos(roll) * below[i];
  }
  const double f = plan.focal_px, cx = plan.width / 2.0, cy = plan.height / 2.0, h = plan.stand_mm;
  ImageFromGround::Matrix m{};
  const double* axes[3] = {right, down, ahead};
  double rows[3][3];
  for (int r = 0; r < 3; ++r) {
    rows[r][0] = axes[r][0];
    rows[r][1] = axes[r][1];
    rows[r][2] = axes[r][2] * h;
  }
  for (int c = 0; c < 3; ++c) {
    m[static_cast<std::size_t>(c)] = f * rows[0][c] + cx * rows[2][c];
    m[static_cast<std::size_t>(3 + c)] = f * rows[1][c] + cy * rows[2][c];
    m[static_cast<std::size_t>(6 + c)] = rows[2][c];
  }
  // the photographer stands at `stand` and has turned by `heading`
  const double turn = plan.heading_deg * shape_parts::kRadiansPerDegree, ct = std::cos(turn), st = std::sin(turn);
  const double sx = plan.stand.x, sy = plan.stand.y;
  const double move[9] = {ct, st, -(ct * sx + st * sy), -st, ct, st * sx - ct * sy, 0, 0, 1};
  ImageFromGround::Matrix whole{};
  for (std::size_t r = 0; r < 3; ++r) {
    for (std::size_t c = 0; c < 3; ++c) {
      for (std::size_t k = 0; k < 3; ++k)
        whole[3 * r + c] += m[3 * r + k] * move[3 * k + c];
    }
  }
  return ImageFromGround(whole);
}

}  // namespace

Camera::Camera(const CameraPlan& plan)
    : plan_(plan), image_from_ground_(pinhole(plan)), ground_from_image_(image_from_ground_.inverse()) {}

std::optional<ImagePoint> Camera::bent(ImagePoint pinhole) const {
  const ImagePoint middle{plan_.width / 2.0, plan_.height / 2.0}, off = pinhole - middle;
  const double r2 = dot(off, off) / (plan_.focal_px * plan_.focal_px);
  if (r2 > 9) return std::nullopt;
  return middle + off * (1 + plan_.distortion * std::min(r2, 1.5));
}

std::optional<ImagePoint> Camera::see(GroundPoint ground) const {
  if (image_from_ground_.depth(ground) < 0.05 * plan_.stand_mm) return std::nullopt;
  return bent(image_from_ground_(ground));
}

std::optional<ImagePoint> Camera::see_above(GroundPoint ground, double up_mm) const {
  // a lower camera over a ground that much higher
  if (up_mm >= 0.98 * plan_.stand_mm) up_mm = 0.98 * plan_.stand_mm;
  CameraPlan lower = plan_;
  lower.stand_mm -= up_mm;
  const ImageFromGround map = pinhole(lower);
  if (map.depth(ground) < 0.05 * plan_.stand_mm) return std::nullopt;
  return bent(map(ground));
}

double Camera::over_horizon_deg(ImagePoint image) const {
  const double tilt = plan_.tilt_deg * shape_parts::kRadiansPerDegree,
               roll = plan_.roll_deg * shape_parts::kRadiansPerDegree;
  const double x = image.x - plan_.width / 2.0, y = image.y - plan_.height / 2.0, f = plan_.focal_px;
  const double down = std::sin(roll) * x + std::cos(roll) * y;  // along the slope of the ground
  const double sink = down * std::sin(tilt) + f * std::cos(tilt);
  return -std::asin(std::clamp(sink / std::sqrt(x * x + y * y + f * f), -1.0, 1.0)) / shape_parts::kRadiansPerDegree;
}

std::optional<GroundPoint> Camera::ground_at(ImagePoint image) const {
  const ImagePoint middle{plan_.width / 2.0, plan_.height / 2.0}, off = image - middle;
  double scale = 1;
  for (int i = 0; i < 4; ++i) {
    const double r2 = dot(off, off) * scale * scale / (plan_.focal_px * plan_.focal_px);
    scale = 1 / (1 + plan_.distortion * std::min(r2, 1.5));
  }
  const ImagePoint p = middle + off * scale;
  // the homography's third coordinate is 1 / depth: positive in front of the camera
  if (ground_from_image_.depth(p) <= 1e-9) return std::nullopt;
  return ground_from_image_(p);
}

GroundRing visible_ground(const Camera& camera, double far_mm, double beyond) {
  std::vector<cv::Point2f> points;
  const auto keep = [&](GroundPoint g) { points.emplace_back(static_cast<float>(g.x), static_cast<float>(g.y)); };
  const double w = camera.width(), h = camera.height();
  constexpr int steps = 48;
  for (int i = 0; i <= steps; ++i) {
    const double t = static_cast<double>(i) / steps;
    for (const ImagePoint p :
         {ImagePoint{w * t, 0}, ImagePoint{w, h * t}, ImagePoint{w * t, h}, ImagePoint{0, h * t}}) {
      const std::optional<GroundPoint> g = camera.ground_at(p);
      if (g && length(*g - camera.stand()) < far_mm) keep(*g);
    }
    // where the photo's edge lies beyond `far_mm`, the far circle closes the ring
    const double angle = -1.5 * std::numbers::pi * (i + 0.5) / steps + 0.25 * std::numbers::pi;
    const GroundPoint far = camera.stand() + GroundPoint{far_mm * std::cos(angle), far_mm * std::sin(angle)};
    const std::optional<ImagePoint> seen = camera.see(far);
    const double mx = beyond * w, my = beyond * h;
    if (seen && seen->x >= -mx && seen->x < w + mx && seen->y >= -my && seen->y < h + my) keep(far);
  }
  std::vector<cv::Point2f> hull;
  if (points.size() >= 3) cv::convexHull(points, hull);
  GroundRing ring;
  for (const cv::Point2f& p : hull)
    ring.push_back({static_cast<double>(p.x), static_cast<double>(p.y)});
  return ring;
}

}  // namespace lotwear::rendering
