#include "measure/size.hpp"

#include <cmath>
#include <polyclipping/clipper.hpp>
#include <vector>

namespace lotwear {
namespace {

using ClipperLib::IntPoint, ClipperLib::Path, ClipperLib::Paths;

// Clipper counts in whole steps, so its unions hold where edges nearly lie on one another. Boost.Geometry's (1.74), in
// floating point, were wrong on bars that touch.
constexpr double kSteps = 1000;  // a mm
constexpr double kJoined = 3;    // mm: closer together nobody masks between two edges

/// What the rings cover, painted once where they cross. Even-odd within a ring: a hole is drawn as part of the ring
/// around it, over a line there and back that is no edge.
Paths painted(const std::vector<GroundRing>& rings) {
  Paths all;
  for (const GroundRing& ring : rings) {
    Path path;
    for (const GroundPoint& p : ring)
      path.emplace_back(std::llround(p.x * kSteps), std::llround(p.y * kSteps));
    Paths part;
    ClipperLib::SimplifyPolygon(path, part, ClipperLib::pftEvenOdd);
    all.insert(all.end(), part.begin(), part.end());
  }
  ClipperLib::SimplifyPolygons(all, ClipperLib::pftNonZero);
  return all;
}

Paths grown(const Paths& paths, double mm) {
  constexpr double kSharpest = 10;  // a notch of down to 11 degrees keeps its edge; the usual 2 cuts those under 60
  ClipperLib::ClipperOffset offset(kSharpest);
  offset.AddPaths(paths, ClipperLib::jtMiter, ClipperLib::etClosedPolygon);
  Paths result;
  offset.Execute(result, mm * kSteps);
  return result;
}

double area_mm2(const Paths& paths) {
  double sum = 0;
  for (const Path& path : paths)
    sum += ClipperLib::Area(path);  // holes are negative
  return sum / (kSteps * kSteps);
}

double edge_mm(const Paths& paths) {
  double sum = 0;
  for (const Path& path : paths) {
    for (std::size_t i = 0; i < path.size(); ++i) {
      const IntPoint a = path[i], b = path[(i + 1) % path.size()];
      sum += std::hypot(static_cast<double>(b.X - a.X), static_cast<double>(b.Y - a.Y));
    }
  }
  return sum / kSteps;
}

}  // namespace

std::optional<Size> size_of(const Footprint& footprint, const Ground& ground) {
  if (!ground.scale_error) return std::nullopt;
  Size size;
  const Paths paint = painted(footprint.rings);
  const double area = area_mm2(paint), around = edge_mm(grown(grown(paint, kJoined / 2), -kJoined / 2));
  size.area_m2 = area * 1e-6;
  size.perimeter_m = around * 1e-3;
  size.length_m = footprint.length_mm * 1e-3;
  size.width_m = footprint.width_mm * 1e-3;
  // Half the shape error falls on each of two lengths at right angles. Edges that all lie too far out by a little make
  // the area too large by the outline's length times that; half of it, as a length's share, so that twice the error is
  // the area's.
  const double edges = area > 0 ? 0.5 * around * footprint.edge_error.value / area : 0;
  size.error = Fraction{std::hypot(ground.scale_error->value, ground.shape_error.value / 2, edges)};
  return size;
}

}  // namespace lotwear
