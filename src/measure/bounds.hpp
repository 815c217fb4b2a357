#pragma once
// The upright box around points, in the units of whoever reaches for them: photo pixels or millimetres of a plan.

#include <algorithm>
#include <limits>

namespace lotwear {

/// Nothing before the first point: left lies right of right.
struct Bounds {
  double left = std::numeric_limits<double>::max(), top = left, right = -left, bottom = -left;
  void reach(double x, double y) {
    left = std::min(left, x), right = std::max(right, x);
    top = std::min(top, y), bottom = std::max(bottom, y);
  }
};

}  // namespace lotwear
