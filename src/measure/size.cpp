#include "measure/size.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

std::optional<Size> size_of(const Footprint& footprint, const Ground& ground) {
  if (!ground.scale_error) return std::nullopt;
  Size size;
  double area_mm2 = 0, around_mm = 0;
  for (const GroundRing& ring : footprint.rings) {
    area_mm2 += area(ring);
    around_mm += perimeter(ring);
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
