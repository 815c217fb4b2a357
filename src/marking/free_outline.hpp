#pragma once
// Outlines of pieces that fit no shape of the trade (words, odd symbols): the finder's contour, moved to the photo's edges.

#include <vector>

#include "marking/patch.hpp"

namespace lotwear {

struct FreeOutline {
  std::vector<GroundRing> rings;
  double edge_error_mm = 0;
};
/// An outline whose stretches between corners are moved, each as one, to where the brightness steps add up: the last word
/// on a fitted shape (drawings differ from hand to hand), a triangle or a stencil letter.
struct SettledRing {
  GroundRing ring;
  double edge_error_mm = 0;
};
/// `reach_cells`: how far a stretch may move, in cells of the finder's map.
SettledRing settle_ring(const GroundRing& drawn, const Patch& patch, double cell_mm, double reach_cells);

/// Outline and hole as one ring, joined by a cut of no width: the survey knows outlines only.
GroundRing with_hole(const GroundRing& outer, const GroundRing& inner);

/// What is outlined: anything, or letters, whose strokes are evenly wide: what has come off at their edges is bridged.
enum class Outlined { anything, letters };
FreeOutline free_outline(const Patch& patch, double cell_mm, Outlined what);

/// Usual width of the strokes in a mask (CV_8U), pixels: twice the distance from their middle lines to their sides.
double stroke_width(const cv::Mat& mask);

}  // namespace lotwear
