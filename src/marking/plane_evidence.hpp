#pragma once
// Fitted stripes and shapes -> what they say about the ground: their edges looked at again along their whole length,
// their widths, lengths and proportions beside those of the trade.

#include <vector>

#include "ground/paint_seen.hpp"
#include "marking/bars.hpp"
#include "marking/groups.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

/// A drawing of the trade where it was laid, ground millimetres.
struct DrawnShape {
  const Shape* shape = nullptr;
  std::vector<double> values;       ///< proportions
  std::vector<GroundRing> drawing;  ///< laid out with its proportions, point by point
  std::vector<GroundRing> rings;    ///< the marking's outline as settled on the photo's edges
  GroundPoint pointing;             ///< unit vector along the drawing, as it points
  double length_mm = 0;
};

PaintSeen paint_seen(const Photo& photo, const PaintMap& paint, const Ground& ground,
                     const std::vector<FittedBar>& bars, const std::vector<BarGroup>& groups,
                     const std::vector<DrawnShape>& drawn);

}  // namespace lotwear
