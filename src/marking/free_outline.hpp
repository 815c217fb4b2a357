#pragma once
// Outlines of pieces that fit no shape of the trade (words, odd symbols): the finder's contour, moved to the photo's edges.

#include <vector>

#include "marking/patch.hpp"

namespace lotwear {

struct FreeOutline {
  std::vector<GroundRing> rings;
  double edge_error_mm = 0;
};
/// Straight-edged outline (a triangle, a stencil letter): every edge moved as a line to where the brightness steps add up.
struct SettledPolygon {
  GroundRing ring;
  double edge_error_mm = 0;
};
SettledPolygon settle_polygon(const GroundRing& corners, const Patch& patch, double cell_mm);

FreeOutline free_outline(const Patch& patch, double cell_mm);

}  // namespace lotwear
