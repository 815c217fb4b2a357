#pragma once
// A shape of the trade laid on the pavement by two clicks.

#include "ground/ground.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

/// How the two points are meant, for the page's hint.
std::string two_clicks(Kind kind);

/// Arrows, symbols, hatching: from the foot to the tip. Lines, stop lines, curbs: from end to end. Crosswalks and yield
/// lines: across the lane, from the middle of the first bar (triangle) to the middle of the last. Stripe widths and the
/// length of a crosswalk's bars are the usual ones; the rest follows from the two points.
/// Problem: a point above the horizon, or both at one place.
Result<std::vector<ImageRing>> lay_template(const Shape& shape, const Ground& ground, ImagePoint from, ImagePoint to);

}  // namespace lotwear
