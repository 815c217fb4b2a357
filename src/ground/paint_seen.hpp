#pragma once
// What fitted outlines tell the ground: their straight edges on the photo, and their sizes.

#include <vector>

#include "ground/edge_line.hpp"
#include "ground/seen_sizes.hpp"

namespace lotwear {

/// A straight edge of a drawing as the photo shows it.
struct DrawnEdge {
  EdgeLine seen;
  double drawn = 0;                   ///< its direction on the drawing, radians from x towards y; either way along it
  double tolerance = 0;               ///< one standard deviation of how exactly it is painted so, radians
  std::vector<double> by_proportion;  ///< how the direction turns with each free proportion, per standard deviation
};

/// One stripe or shape of the trade: its edges keep the angles of their drawing, whichever way it was turned.
using DrawnObject = std::vector<DrawnEdge>;

struct PaintSeen {
  std::vector<EdgeLine> edges;  ///< of what has no drawing
  std::vector<DrawnObject> objects;
  SizesSeen sizes;
};

}  // namespace lotwear
