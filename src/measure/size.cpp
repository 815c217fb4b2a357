#include "measure/size.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {
namespace {

/// A ring about its first point, so that single precision does for it.
std::vector<cv::Point2f> points_of(const GroundRing& ring, GroundPoint origin) {
  std::vector<cv::Point2f> points;
  for (const GroundPoint& p : ring)
    points.emplace_back(static_cast<float>(p.x - origin.x), static_cast<float>(p.y - origin.y));
  return points;
}

struct AreaAndEdge {
  double area_mm2 = 0, around_mm = 0;
};

/// What two straight bars share where they cross. Painted once, measured once: area and edge of the whole are those of
/// both, less those of what they share. Bent ones are left alone.
AreaAndEdge shared_by(const GroundRing& one, const GroundRing& other) {
  if (one.size() < 3 || other.size() < 3) return {};
  const std::vector<cv::Point2f> a = points_of(one, one.front()), b = points_of(other, one.front());
  if ((cv::boundingRect(a) & cv::boundingRect(b)).empty() || !cv::isContourConvex(a) || !cv::isContourConvex(b))
    return {};
  std::vector<cv::Point2f> both;
  const double shared = static_cast<double>(cv::intersectConvexConvex(a, b, both));
  return shared > 0 ? AreaAndEdge{shared, cv::arcLength(both, true)} : AreaAndEdge{};
}

}  // namespace

std::optional<Size> size_of(const Footprint& footprint, const Ground& ground) {
  if (!ground.scale_error) return std::nullopt;
  Size size;
  double area_mm2 = 0, around_mm = 0;
  for (const GroundRing& ring : footprint.rings) {
    area_mm2 += area(ring);
    around_mm += perimeter(ring);
  }
  for (std::size_t i = 0; i < footprint.rings.size(); ++i) {
    for (std::size_t j = i + 1; j < footprint.rings.size(); ++j) {
      const AreaAndEdge shared = shared_by(footprint.rings[i], footprint.rings[j]);
      area_mm2 -= shared.area_mm2, around_mm -= shared.around_mm;
    }
  }
  size.area_m2 = area_mm2 * 1e-6;
  size.perimeter_m = around_mm * 1e-3;
  size.length_m = footprint.length_mm * 1e-3;
  size.width_m = footprint.width_mm * 1e-3;
  // Half the shape error falls on each of two lengths at right angles. Edges that all lie too far out by a little make
  // the area too large by the outline's length times that; half of it, as a length's share, so that twice the error is
  // the area's.
  const double edges = area_mm2 > 0 ? 0.5 * around_mm * footprint.edge_error.value / area_mm2 : 0;
  size.error = Fraction{std::hypot(ground.scale_error->value, ground.shape_error.value / 2, edges)};
  return size;
}

}  // namespace lotwear
