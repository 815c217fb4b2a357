#include "measure/size.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace lotwear {
namespace {

/// Where a line of one y crosses a ring, in order.
std::vector<double> crossings(const GroundRing& ring, double y) {
  std::vector<double> found;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    if ((a.y > y) != (b.y > y)) found.push_back(a.x + (y - a.y) * (b.x - a.x) / (b.y - a.y));
  }
  std::sort(found.begin(), found.end());
  return found;
}

struct Box {
  double left = 1e12, top = 1e12, right = -1e12, bottom = -1e12;
};
Box around(const GroundRing& ring) {
  Box box;
  for (const GroundPoint& p : ring) {
    box.left = std::min(box.left, p.x), box.right = std::max(box.right, p.x);
    box.top = std::min(box.top, p.y), box.bottom = std::max(box.bottom, p.y);
  }
  return box;
}
bool apart(const Box& a, const Box& b, double by) {
  return a.left > b.right + by || b.left > a.right + by || a.top > b.bottom + by || b.top > a.bottom + by;
}

/// What of one line rings cover.
class Spans {
 public:
  void add(const GroundRing& ring, double y) {
    const std::vector<double> at = crossings(ring, y);
    for (std::size_t i = 0; i + 1 < at.size(); i += 2)
      spans_.emplace_back(at[i], at[i + 1]);
  }
  /// Length of the line's part that any of them covers.
  double covered() {
    std::sort(spans_.begin(), spans_.end());
    double sum = 0, to = -1e12;
    for (const auto& [from, end] : spans_) {
      sum += std::max(0.0, end - std::max(from, to));
      to = std::max(to, end);
    }
    return sum;
  }

 private:
  std::vector<std::pair<double, double>> spans_;
};

/// What the rings cover, painted once where they cross.
double covered_area(const std::vector<GroundRing>& rings) {
  constexpr double kLines = 2000;
  Box whole;
  std::vector<Box> boxes;
  for (const GroundRing& ring : rings) {
    boxes.push_back(around(ring));
    whole.top = std::min(whole.top, boxes.back().top), whole.bottom = std::max(whole.bottom, boxes.back().bottom);
  }
  const double step = (whole.bottom - whole.top) / kLines;
  double sum = 0;
  for (int i = 0; i < kLines; ++i) {
    const double y = whole.top + (i + 0.5) * step;
    Spans spans;
    for (std::size_t k = 0; k < rings.size(); ++k) {
      if (boxes[k].top < y && boxes[k].bottom > y) spans.add(rings[k], y);
    }
    sum += spans.covered() * step;
  }
  return sum;
}

/// Even-odd, in the ground's own precision: rings lie metres from the origin and are compared to millimetres.
bool inside(const GroundRing& ring, GroundPoint p) {
  bool in = false;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    if ((a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) * (b.x - a.x) / (b.y - a.y)) in = !in;
  }
  return in;
}

constexpr double kJoined = 3;  // mm: closer together nobody masks between two edges

/// Which way round the ring runs: +1 where (dy, -dx) of an edge points out of it, else -1.
double outward(const GroundRing& ring) {
  double twice = 0;
  for (std::size_t i = 0; i < ring.size(); ++i)
    twice += cross(ring[i], ring[(i + 1) % ring.size()]);
  return twice > 0 ? 1 : -1;
}

/// Edges that are masked: those beyond which no other ring lies. Where two rings end in one line it is masked once.
double masked_edge(const std::vector<GroundRing>& rings) {
  constexpr double kStep = 4;
  std::vector<Box> boxes;
  for (const GroundRing& ring : rings)
    boxes.push_back(around(ring));
  double sum = 0;
  for (std::size_t i = 0; i < rings.size(); ++i) {
    std::vector<std::size_t> near;
    for (std::size_t k = 0; k < rings.size(); ++k) {
      if (k != i && !apart(boxes[i], boxes[k], kJoined)) near.push_back(k);
    }
    const double side = outward(rings[i]);
    for (std::size_t j = 0; j < rings[i].size(); ++j) {
      const GroundPoint a = rings[i][j], b = rings[i][(j + 1) % rings[i].size()];
      const double whole = length(b - a);
      if (near.empty() || whole <= 0) {
        sum += whole;
        continue;
      }
      const GroundPoint out = GroundPoint{b.y - a.y, a.x - b.x} * (side * kJoined / whole);
      const int steps = std::max(1, static_cast<int>(std::lround(whole / kStep)));
      int open = 0;
      for (int n = 0; n < steps; ++n) {
        const GroundPoint p = a + (b - a) * ((n + 0.5) / steps);
        const bool masked = std::none_of(near.begin(), near.end(), [&](std::size_t k) {
          return inside(rings[k], p + out) || (k < i && inside(rings[k], p - out));
        });
        open += masked ? 1 : 0;
      }
      sum += whole * open / steps;
    }
  }
  return sum;
}

/// Whether any two of them may cross or touch.
bool any_meet(const std::vector<GroundRing>& rings) {
  for (std::size_t i = 0; i < rings.size(); ++i) {
    for (std::size_t k = i + 1; k < rings.size(); ++k) {
      if (!apart(around(rings[i]), around(rings[k]), kJoined)) return true;
    }
  }
  return false;
}

}  // namespace

std::optional<Size> size_of(const Footprint& footprint, const Ground& ground) {
  if (!ground.scale_error) return std::nullopt;
  Size size;
  double area_mm2 = 0, around_mm = 0;
  if (any_meet(footprint.rings)) {
    area_mm2 = covered_area(footprint.rings), around_mm = masked_edge(footprint.rings);
  } else {
    for (const GroundRing& ring : footprint.rings)
      area_mm2 += area(ring), around_mm += perimeter(ring);
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
