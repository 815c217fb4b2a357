#include "ground/ground.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lotwear {

namespace {

using Vector = std::array<double, 3>;

constexpr double kUsualPhoneMm = 26;            // main camera of most phones, 35 mm equivalent
constexpr double kFullFrameDiagonalMm = 43.27;  // 36 x 24 mm: equivalence is by the diagonal (CIPA DCG-001)
// Outside these a focal length in EXIF is a mistake: fisheye 8 mm to super-telephoto 600 mm equivalent.
constexpr double kShortestOfDiagonal = 0.18, kLongestOfDiagonal = 14;

Vector cross(const Vector& a, const Vector& b) {
  return {a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
}

Vector scaled(const Vector& v, double by) { return {v[0] * by, v[1] * by, v[2] * by}; }

double norm(const Vector& v) { return std::sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]); }

/// The part of camera axis `axis` that lies in the pavement.
Vector along_pavement(const Vector& down, std::size_t axis) {
  Vector v = scaled(down, -down[axis]);
  v[axis] += 1;
  return v;
}

}  // namespace

Camera camera_of(const Photo& photo) {
  const double diagonal = std::hypot(photo.rgb.cols, photo.rgb.rows);
  if (photo.focal_px && *photo.focal_px > kShortestOfDiagonal * diagonal &&
      *photo.focal_px < kLongestOfDiagonal * diagonal) {
    return {*photo.focal_px, true};
  }
  return {kUsualPhoneMm / kFullFrameDiagonalMm * diagonal, false};
}

Ground with_scale(const Ground& ground, double factor, const std::string& source, Fraction error) {
  require(std::isfinite(factor) && factor > 0, "a scale factor is positive");
  Ground scaled_ground = ground;
  auto to_ground = ground.ground_from_image.matrix();
  auto to_image = ground.image_from_ground.matrix();
  for (std::size_t i = 0; i < 6; ++i)
    to_ground[i] *= factor;
  for (const std::size_t i : {0U, 1U, 3U, 4U, 6U, 7U})
    to_image[i] /= factor;
  scaled_ground.ground_from_image = GroundFromImage(to_ground);
  scaled_ground.image_from_ground = ImageFromGround(to_image);
  scaled_ground.source = source;
  scaled_ground.scale_error = error;
  return scaled_ground;
}

Ground ground_from_pose(const Camera& camera, cv::Size photo, const std::array<double, 3>& down, Millimetres height) {
  require(std::abs(norm(down) - 1) < 1e-6, "the pavement normal has unit length");
  require(camera.focal_px > 0 && height.value > 0, "focal length and height are positive");
  const double f = camera.focal_px, cx = photo.width / 2.0, cy = photo.height / 2.0, h = height.value;
  const Vector sideways = along_pavement(down, 0);
  // A camera turned on its side has its x axis along the normal; its y axis then takes over.
  const bool on_its_side = norm(sideways) < 0.1;
  const Vector chosen = on_its_side ? along_pavement(down, 1) : sideways;
  const Vector ex = scaled(chosen, 1 / norm(chosen));
  const Vector ey = cross(down, ex);

  // A photo pixel's ray is ((u - cx) / f, (v - cy) / f, 1); where it meets the plane, down . X = h.
  const auto row = [&](const Vector& v, double by) {
    return Vector{by * v[0] / f, by * v[1] / f, by * (v[2] - (v[0] * cx + v[1] * cy) / f)};
  };
  const Vector gx = row(ex, h), gy = row(ey, h), gw = row(down, 1);
  const auto seen = [&](const Vector& v) { return Vector{f * v[0] + cx * v[2], f * v[1] + cy * v[2], v[2]}; };
  const Vector ix = seen(ex), iy = seen(ey), io = seen(scaled(down, h));

  Ground ground;
  ground.ground_from_image = GroundFromImage({gx[0], gx[1], gx[2], gy[0], gy[1], gy[2], gw[0], gw[1], gw[2]});
  ground.image_from_ground = ImageFromGround({ix[0], iy[0], io[0], ix[1], iy[1], io[1], ix[2], iy[2], io[2]});
  ground.source = "assumed";
  ground.tilt_deg = std::acos(std::clamp(down[2], -1.0, 1.0)) * 180 / std::numbers::pi;
  return ground;
}

GroundPixel ground_pixel(const Ground& ground, ImagePoint at) {
  const auto& m = ground.ground_from_image.matrix();
  const double w = ground.ground_from_image.depth(at);
  require(w > 0, "a photo pixel on the ground lies below the horizon");
  const GroundPoint g = ground.ground_from_image(at);
  const double a = (m[0] - g.x * m[6]) / w, b = (m[1] - g.x * m[7]) / w;
  const double c = (m[3] - g.y * m[6]) / w, d = (m[4] - g.y * m[7]) / w;
  // Singular values of the 2 x 2 derivative.
  const double sum = std::hypot(a + d, b - c), difference = std::hypot(a - d, b + c);
  return {std::abs(sum - difference) / 2, (sum + difference) / 2};
}

}  // namespace lotwear
