#pragma once
// Outline makers behind shapes.hpp, one family a file. All work in the unit frame (length 1, along y, pointing to -y)
// and leave centring to `outline`.

#include <numbers>
#include <span>
#include <vector>

#include "base/geometry.hpp"
#include "marking/shapes.hpp"

namespace lotwear::shape_parts {

using Rings = std::vector<GroundRing>;
using Values = std::span<const double>;

inline constexpr double kRadiansPerDegree = std::numbers::pi / 180.0;

/// Axis-parallel bar.
GroundRing bar(double left, double top, double right, double bottom);
/// Points of an arc, both ends included; angles in radians, x = centre + r cos, y = centre + r sin.
GroundRing arc(GroundPoint centre, double radius, double from, double to);
/// A convex-or-not ring cut to a rectangle; empty when nothing is left.
GroundRing clip(const GroundRing& ring, double left, double top, double right, double bottom);
GroundRing mirrored(const GroundRing& ring);

Rings straight_arrow(Values values);
Rings square_turn(Values values);
Rings curved_turn(Values values);
Rings square_straight_turn(Values values);
Rings curved_straight_turn(Values values);
Rings square_two_turns(Values values);
Rings curved_two_turns(Values values);

Rings seated_symbol(Values values);
Rings leaning_symbol(Values values);

Rings single_bar(Values values);
Rings crosswalk_bars(Values values);
Rings crosswalk_ladder(Values values);
Rings crosswalk_lines(Values values);
Rings hatching(Values values);
Rings yield_triangles(Values values);

/// Separate strokes, the letters in a row along x.
Rings word(const std::vector<Letter>& letters, Values values);

}  // namespace lotwear::shape_parts
