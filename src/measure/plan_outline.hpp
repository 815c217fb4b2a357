#pragma once
// Outlines of markings on the grid of a plan: filled, how far each spot lies within, which marking lies upon which, how
// wide a stripe is in the photo. Outlines are ground millimetres, closed, and may reach past the plan; angles are
// radians. Maps have the plan's size. Nothing can go wrong: an outline of fewer than three points encloses nothing.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "base/geometry.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

/// `p` about the ground's origin, from x towards y.
GroundPoint turned(GroundPoint p, double angle);

/// Ground direction of the longest edge: plans of long markings lie along x. Within a quarter turn of the x axis.
double main_direction(const std::vector<GroundRing>& rings);

/// Sets what `ring` encloses to 1 in `mask`, CV_8U.
void fill_outline(cv::Mat& mask, const GroundRing& ring, const PlanView& plan);

/// Millimetres to the nearest outline, CV_32F, positive inside; exact to a small part of a pixel near the outline.
cv::Mat signed_distance(const std::vector<GroundRing>& rings, const PlanView& plan);

/// Nearly all corners of `upper` lie inside rings of `lower`.
bool lies_on(const Footprint& upper, const Footprint& lower);

/// Photo pixels across a stripe at the middle of what the photo shows of it: seen along its length it is wider than its
/// pixels are large, and its near end fills most of it.
double stripe_pixels(const GroundRing& ring, double turn_rad, double width_mm, const Ground& ground);

}  // namespace lotwear
