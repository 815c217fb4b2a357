// Everything made of bars and triangles. Pieces that meet are cut so that they touch and never overlap: areas add up.

#include <algorithm>
#include <cmath>

#include "marking/shapes_parts.hpp"

namespace lotwear::shape_parts {

GroundRing bar(double left, double top, double right, double bottom) {
  return {{left, top}, {right, top}, {right, bottom}, {left, bottom}};
}

GroundRing arc(GroundPoint centre, double radius, double from, double to) {
  // a chord every 6 degrees or less stays within 0.14 % of the radius
  const int steps = std::max(2, static_cast<int>(std::ceil(std::abs(to - from) / (6 * kRadiansPerDegree))));
  GroundRing points;
  points.reserve(static_cast<std::size_t>(steps) + 1);
  for (int i = 0; i <= steps; ++i) {
    const double angle = from + (to - from) * i / steps;
    points.push_back({centre.x + radius * std::cos(angle), centre.y + radius * std::sin(angle)});
  }
  return points;
}

GroundRing mirrored(const GroundRing& ring) {
  GroundRing out = ring;
  for (GroundPoint& p : out)
    p.x = -p.x;
  return out;
}

namespace {

/// Sutherland and Hodgman 1974: what lies on the side where a x + b y <= c.
GroundRing keep_side(const GroundRing& ring, double a, double b, double c) {
  GroundRing kept;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const GroundPoint p = ring[i], q = ring[(i + 1) % ring.size()];
    const double at_p = a * p.x + b * p.y - c, at_q = a * q.x + b * q.y - c;
    if (at_p <= 0) kept.push_back(p);
    if ((at_p < 0 && at_q > 0) || (at_p > 0 && at_q < 0)) kept.push_back(p + (q - p) * (at_p / (at_p - at_q)));
  }
  return kept;
}

}  // namespace

GroundRing clip(const GroundRing& ring, double left, double top, double right, double bottom) {
  GroundRing kept = keep_side(keep_side(ring, -1, 0, -left), 1, 0, right);
  kept = keep_side(keep_side(kept, 0, -1, -top), 0, 1, bottom);
  return kept.size() < 3 ? GroundRing{} : kept;
}

// width
Rings single_bar(Values v) { return {bar(-v[0] / 2, 0, v[0] / 2, 1)}; }

// bar-width, gap, count
Rings crosswalk_bars(Values v) {
  Rings rings;
  const int count = static_cast<int>(std::lround(v[2]));
  for (int i = 0; i < count; ++i)
    rings.push_back(bar(i * (v[0] + v[1]), 0, i * (v[0] + v[1]) + v[0], 1));
  return rings;
}

// line-width, bar-width, gap, count
Rings crosswalk_ladder(Values v) {
  const int count = static_cast<int>(std::lround(v[3]));
  const double span = count * (v[1] + v[2]) + v[2];
  Rings rings = {bar(0, 0, span, v[0]), bar(0, 1 - v[0], span, 1)};
  for (int i = 0; i < count; ++i) {
    const double left = v[2] + i * (v[1] + v[2]);
    rings.push_back(bar(left, v[0], left + v[1], 1 - v[0]));
  }
  return rings;
}

// line-width, span
Rings crosswalk_lines(Values v) { return {bar(0, 0, v[1], v[0]), bar(0, 1 - v[0], v[1], 1)}; }

// width, border, bar-width, spacing, angle-degrees
Rings hatching(Values v) {
  const double width = v[0], border = std::min(v[1], 0.2 * v[0]), slant = v[4] * kRadiansPerDegree;
  Rings rings;
  if (border > 0) {
    rings = {bar(0, 0, border, 1), bar(width - border, 0, width, 1), bar(border, 0, width - border, border),
             bar(border, 1 - border, width - border, 1)};
  }
  const double step = std::max(v[3], 1.3 * v[2]) / std::cos(slant), tall = v[2] / std::cos(slant);
  const double rise = std::tan(slant) * width;
  // bars cross the whole width; the one through the middle of the area is centred there
  const int reach = static_cast<int>(std::ceil((0.5 + std::abs(rise)) / step)) + 1;
  for (int i = -reach; i <= reach; ++i) {
    const double middle = 0.5 + i * step;
    const GroundRing slanted = {{0, middle - rise / 2 - tall / 2},
                                {width, middle + rise / 2 - tall / 2},
                                {width, middle + rise / 2 + tall / 2},
                                {0, middle - rise / 2 + tall / 2}};
    const GroundRing inside = clip(slanted, border, border, width - border, 1 - border);
    if (!inside.empty() && area(inside) > 0.05 * v[2] * width) rings.push_back(inside);
  }
  if (border > 0) return rings;
  // without a border the bars themselves must reach from end to end
  double top = 1, bottom = 0;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring)
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
  }
  for (GroundRing& ring : rings) {
    for (GroundPoint& p : ring)
      p.y = (p.y - top) / (bottom - top);
  }
  return rings;
}

// base, gap, count; the triangles point to -y, towards the vehicles that must yield
Rings yield_triangles(Values v) {
  Rings rings;
  const int count = static_cast<int>(std::lround(v[2]));
  for (int i = 0; i < count; ++i) {
    const double left = i * (v[0] + v[1]);
    rings.push_back({{left + v[0] / 2, 0}, {left + v[0], 1}, {left, 1}});
  }
  return rings;
}

}  // namespace lotwear::shape_parts
