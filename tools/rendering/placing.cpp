#include <algorithm>
#include <cmath>

#include "base/trouble.hpp"
#include "rendering/draw_parts.hpp"

namespace lotwear::rendering {

std::vector<double> draw_proportions(Random& random, const Shape& shape) {
  std::vector<double> values;
  const bool home_made = random.chance(0.33);
  for (const Proportion& p : shape.proportions) {
    const double narrow = 0.22 * random.normal();
    double v = p.usual + (narrow < 0 ? narrow * (p.usual - p.low) : narrow * (p.high - p.usual));
    if (home_made) v = random.between(p.low + 0.1 * (p.usual - p.low), p.high - 0.25 * (p.high - p.usual));
    values.push_back(std::clamp(v, p.low, p.high));
  }
  return values;
}

const Shape& shape_named(const std::vector<Shape>& shapes, const std::string& name) {
  const auto found = std::find_if(shapes.begin(), shapes.end(), [&](const Shape& s) { return s.name == name; });
  if (found == shapes.end()) throw Failure("models/shapes.json: the renderer needs a shape called '" + name + "'");
  return *found;
}

std::vector<GroundRing> placed(const std::vector<GroundRing>& rings, double turn, GroundPoint at) {
  const double c = std::cos(turn), s = std::sin(turn);
  std::vector<GroundRing> out = rings;
  for (GroundRing& ring : out) {
    for (GroundPoint& p : ring)
      p = {at.x + c * p.x - s * p.y, at.y + s * p.x + c * p.y};
  }
  return out;
}

GroundPoint middle_of(const std::vector<GroundRing>& rings) {
  GroundPoint sum{};
  double whole = 0;
  for (const GroundRing& ring : rings) {
    const double a = area(ring);
    sum = sum + centroid(ring) * a;
    whole += a;
  }
  return whole > 0 ? sum * (1 / whole) : GroundPoint{};
}

std::vector<GroundPoint> points_inside(const std::vector<GroundRing>& rings, int count) {
  double whole = 0;
  for (const GroundRing& ring : rings)
    whole += area(ring);
  const double step = std::sqrt(whole / count);
  std::vector<GroundPoint> points;
  for (const GroundRing& ring : rings) {
    double top = 1e18, bottom = -1e18;
    for (const GroundPoint& p : ring)
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    const double rows = std::max(1.0, std::ceil((bottom - top) / step)), pitch = (bottom - top) / rows;
    for (double y = top + pitch / 2; y < bottom; y += pitch) {
      std::vector<double> cuts;
      for (std::size_t i = 0; i < ring.size(); ++i) {
        const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
        if ((a.y <= y) != (b.y <= y)) cuts.push_back(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
      }
      std::sort(cuts.begin(), cuts.end());
      for (std::size_t i = 0; i + 1 < cuts.size(); i += 2) {
        const int n = std::max(1, static_cast<int>(std::lround((cuts[i + 1] - cuts[i]) / step)));
        for (int k = 0; k < n; ++k)
          points.push_back({cuts[i] + (cuts[i + 1] - cuts[i]) * (k + 0.5) / n, y});
      }
    }
  }
  return points;
}

double share_in_view(const std::vector<GroundRing>& rings, const Camera& camera) {
  const std::vector<GroundPoint> points = points_inside(rings, 600);
  double seen = 0;
  for (const GroundPoint& p : points) {
    const auto image = camera.see(p);
    if (image && image->x >= 0 && image->y >= 0 && image->x < camera.width() && image->y < camera.height()) seen += 1;
  }
  return points.empty() ? 0 : seen / static_cast<double>(points.size());
}

}  // namespace lotwear::rendering
