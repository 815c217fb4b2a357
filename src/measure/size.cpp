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
  // Half the shape error falls on each of two lengths at right angles; an edge's error falls on both ends.
  const double edge = footprint.length_mm > 0 ? 1.4 * footprint.edge_error.value / footprint.length_mm : 0;
  size.error = Fraction{
      std::sqrt(std::pow(ground.scale_error->value, 2) + std::pow(ground.shape_error.value / 2, 2) + edge * edge)};
  return size;
}

}  // namespace lotwear
