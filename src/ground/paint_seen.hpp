#pragma once
// What fitted outlines tell the ground: their straight edges on the photo, and their sizes.

#include <vector>

#include "ground/edge_line.hpp"
#include "ground/seen_sizes.hpp"

namespace lotwear {

struct PaintSeen {
  std::vector<EdgeLine> edges;
  SizesSeen sizes;
};

}  // namespace lotwear
