#pragma once
// Outlines of pieces that fit no shape of the trade (words, odd symbols): the finder's contour, moved to the photo's edges.

#include <vector>

#include "marking/patch.hpp"

namespace lotwear {

struct FreeOutline {
  std::vector<GroundRing> rings;
  double edge_error_mm = 0;
};
FreeOutline free_outline(const Patch& patch, double cell_mm);

}  // namespace lotwear
