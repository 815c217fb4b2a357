#include "marking/shape_pose.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

namespace {

/// An outline laid where a pose says.
std::vector<PatchRing> laid_in_patch(const std::vector<GroundRing>& outline, const ShapePose& pose,
                                     double mm_per_pixel) {
  const double c = std::cos(pose.turn), s = std::sin(pose.turn), stretch = std::exp(pose.squeeze);
  const double whole = pose.length_mm / mm_per_pixel;
  std::vector<PatchRing> rings;
  rings.reserve(outline.size());
  for (const GroundRing& ring : outline) {
    PatchRing placed;
    placed.reserve(ring.size());
    for (const GroundPoint& p : ring) {
      const double depth = std::max(0.5, 1 + (pose.lean_x * p.x + pose.lean_y * p.y) / whole);
      const double x = (p.x * stretch + p.y * pose.shear) / depth, y = p.y / depth;
      placed.push_back({pose.middle.x + c * x - s * y, pose.middle.y + s * x + c * y});
    }
    rings.push_back(std::move(placed));
  }
  return rings;
}

}  // namespace

std::vector<PatchRing> rings_in_patch(const ShapePose& pose, const Shape& shape, double mm_per_pixel) {
  return laid_in_patch(outline(shape, pose.length_mm / mm_per_pixel, pose.values), pose, mm_per_pixel);
}

ShapePose moved_to(ShapePose pose, double by) {
  pose.middle = pose.middle * by;
  return pose;
}

std::vector<PatchRing> Drawing::at(const ShapePose& pose) {
  if (outline_.empty() || pose.length_mm != length_mm_ || pose.values != values_) {
    outline_ = outline(shape_, pose.length_mm / mm_, pose.values);
    length_mm_ = pose.length_mm, values_ = pose.values;
  }
  return laid_in_patch(outline_, pose, mm_);
}

std::vector<double> Knobs::pack(const ShapePose& p, const Shape& shape) const {
  std::vector<double> v = {p.middle.x / cell_px, p.middle.y / cell_px, p.turn / 0.08,   std::log(p.length_mm) / 0.06,
                           p.squeeze / 0.06,     p.shear / 0.06,       p.lean_x / 0.06, p.lean_y / 0.06};
  for (std::size_t i = 0; i < shape.proportions.size(); ++i) {
    const Proportion& q = shape.proportions[i];
    v.push_back((p.values[i] - q.usual) / std::max(1e-9, 0.15 * (q.high - q.low)));
  }
  return v;
}

ShapePose Knobs::unpack(const std::vector<double>& v, const ShapePose& like, const Shape& shape) const {
  ShapePose p = like;
  p.middle = {v[0] * cell_px, v[1] * cell_px};
  p.turn = v[2] * 0.08;
  p.length_mm = std::exp(v[3] * 0.06);
  p.squeeze = v[4] * 0.06;
  p.shear = v[5] * 0.06;
  p.lean_x = v[6] * 0.06;
  p.lean_y = v[7] * 0.06;
  for (std::size_t i = 0; i < shape.proportions.size(); ++i) {
    const Proportion& q = shape.proportions[i];
    p.values[i] = std::clamp(q.usual + v[kPlaceKnobs + i] * 0.15 * (q.high - q.low), q.low, q.high);
  }
  return p;
}

double oddness(const std::vector<double>& knobs) {
  double cost = 0;
  for (std::size_t i = Knobs::kPlace; i < knobs.size(); ++i)
    cost += 0.0006 * knobs[i] * knobs[i];
  return cost;
}

Rim rim_of(const std::vector<PatchRing>& rings, const std::vector<int>& counts) {
  Rim rim;
  for (std::size_t r = 0; r < rings.size() && r < counts.size(); ++r) {
    const PatchRing& ring = rings[r];
    double twice = 0;
    for (std::size_t i = 0; i < ring.size(); ++i)
      twice += cross(ring[i], ring[(i + 1) % ring.size()]);
    const double outward = twice > 0 ? 1 : -1, around = perimeter(ring);
    std::size_t i = 0;
    double before = 0;
    for (int k = 0; k < counts[r]; ++k) {
      const double at = (k + 0.5) / counts[r] * around;
      while (i + 1 < ring.size() && before + length(ring[i + 1] - ring[i]) < at) {
        before += length(ring[i + 1] - ring[i]);
        ++i;
      }
      const PatchPoint a = ring[i], d = ring[(i + 1) % ring.size()] - a;
      const double len = std::max(1e-9, length(d));
      rim.points.push_back(a + d * std::clamp((at - before) / len, 0.0, 1.0));
      rim.normals.push_back({outward * d.y / len, -outward * d.x / len});
    }
  }
  return rim;
}

}  // namespace lotwear
