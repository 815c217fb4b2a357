// The accessible symbol is drawn from strokes laid out in the 41 x 36 inch box with its 4 inch stroke (Ohio DOT plan
// note 342-2, Table 397-2), then stretched to the wanted width. Head, body and wheel are separate pieces, as a stencil
// leaves them.

#include <algorithm>

#include "marking/shapes_parts.hpp"

namespace lotwear::shape_parts {

namespace {

constexpr double kBoxHeight = 41, kBoxWidth = 36;  // inches

struct Stroke {
  GroundRing left, right;  ///< both sides of a polyline, from its start to its end
};

/// Both sides of a polyline `width` wide, with mitred corners.
Stroke stroke(const GroundRing& path, double width) {
  Stroke sides;
  for (std::size_t i = 0; i < path.size(); ++i) {
    const auto unit = [](GroundPoint d) { return d * (1.0 / length(d)); };
    const GroundPoint in = i > 0 ? unit(path[i] - path[i - 1]) : unit(path[1] - path[0]);
    const GroundPoint out = i + 1 < path.size() ? unit(path[i + 1] - path[i]) : in;
    const GroundPoint normal_in{in.y, -in.x}, normal_out{out.y, -out.x};
    const GroundPoint mitre = (normal_in + normal_out) * (width / 2 / (1 + dot(normal_in, normal_out)));
    sides.left.push_back(path[i] + mitre);
    sides.right.push_back(path[i] - mitre);
  }
  return sides;
}

GroundRing closed(const Stroke& sides) {
  GroundRing ring = sides.left;
  ring.insert(ring.end(), sides.right.rbegin(), sides.right.rend());
  return ring;
}

/// An arc of radius 1 about (0, 0), there and back. Symbols are drawn over and over with the same ones: each is worked out
/// once.
struct UnitArc {
  GroundRing there, back;
  UnitArc(double from_degrees, double to_degrees)
      : there(arc({0, 0}, 1, from_degrees * kRadiansPerDegree, to_degrees * kRadiansPerDegree)),
        back(arc({0, 0}, 1, to_degrees * kRadiansPerDegree, from_degrees * kRadiansPerDegree)) {}
};

GroundRing laid(const GroundRing& unit, GroundPoint centre, double radius) {
  GroundRing ring;
  ring.reserve(2 * unit.size());  // a wheel's way back follows
  for (const GroundPoint& p : unit)
    ring.push_back({centre.x + radius * p.x, centre.y + radius * p.y});
  return ring;
}

GroundRing disc(GroundPoint centre, double radius) {
  static const GroundRing unit = arc({0, 0}, 1, 0, 2 * std::numbers::pi);
  GroundRing ring = laid(unit, centre, radius);
  ring.pop_back();
  return ring;
}

GroundRing wheel_part(GroundPoint centre, double outer, double width, const UnitArc& part) {
  GroundRing ring = laid(part.there, centre, outer);
  const GroundRing back = laid(part.back, centre, outer - width);
  ring.insert(ring.end(), back.begin(), back.end());
  return ring;
}

/// From inches in the box to the unit frame, `width` wide; whatever a thick stroke pushed over the box is taken back
/// in.
Rings boxed(Rings rings, double width) {
  double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) {
      left = std::min(left, p.x), right = std::max(right, p.x);
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    }
  }
  for (GroundRing& ring : rings) {
    for (GroundPoint& p : ring)
      p = {(p.x - left) / (right - left) * width, (p.y - top) / (bottom - top)};
  }
  return rings;
}

}  // namespace

// width, stroke, head-diameter
Rings seated_symbol(Values v) {
  const double t = v[1] * kBoxHeight, head = v[2] * kBoxHeight / 2;
  static const UnitArc wheel(17, 240);
  const GroundPoint hub{13, 28};
  const double thigh = 22, torso = 10 + t / 2;
  const Stroke body = stroke({{torso, 2 * head + 1.3}, {torso, thigh}, {26, thigh}, {31, 36}, {kBoxWidth, 36}}, t);
  const double right = torso + t / 2, arm_top = 12.2, arm_bottom = std::min(arm_top + 0.75 * t, thigh - t / 2 - 1.5);
  // the outward side of the torso carries the arm
  GroundRing ring = {body.left[0], {right, arm_top}, {23, arm_top}, {23, arm_bottom}, {right, arm_bottom}};
  ring.insert(ring.end(), body.left.begin() + 1, body.left.end());
  ring.insert(ring.end(), body.right.rbegin(), body.right.rend());
  return boxed({disc({11, head}, head), ring, wheel_part(hub, 13, t, wheel)}, v[0]);
}

// width, stroke, head-diameter
Rings leaning_symbol(Values v) {
  const double t = v[1] * kBoxHeight, head = v[2] * kBoxHeight / 2;
  static const UnitArc front(22, 118), rear(132, 228);
  const GroundPoint hub{13, 28};
  const GroundRing body = closed(stroke({{21.5, 10.5}, {15.5, 21.5}, {26.5, 21.5}, {31, 35}, {kBoxWidth, 35}}, t));
  const GroundRing arm = closed(stroke({{18.5 - t / 2, 9.3}, {8.5, 9.3}, {5.5, 14.5}}, 0.8 * t));
  return boxed({disc({25.5, head}, head), body, arm, wheel_part(hub, 13, t, front), wheel_part(hub, 13, t, rear)},
               v[0]);
}

}  // namespace lotwear::shape_parts
