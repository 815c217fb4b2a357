#pragma once
// The most probable camera pose from how a phone is held and from straight edges of markings.
//
// Painted edges share directions: two edges of a stripe, rows of stalls, stop lines square to them. A pose is probable
// when, laid down on its ground, edges come out parallel (or square) to others more exactly than chance would have it.
// Edges of one stripe or one shape of the trade keep the angles of its drawing: an object stands in the comparison with
// one direction, and answers for its own edges much more exactly than strangers agree (kPaintedStraight).
// Every edge counts as a mixture: direction shared with some other edge, or any direction at all in the photo (arrow
// heads, letters), so no edge can spoil the answer. Densities are per angle in the *photo*; per angle on the ground, a
// view so flat that it squeezes all directions together would look like perfect agreement.
// Sizes of stripes and shapes, where they are known already, weigh in beside the edges (seen_sizes).
// Poses that put paint or pavement above the horizon are ruled out. Search: a coarse grid with blunt tolerances, then
// the best few sharpened step by step; the covariance from the curvature, widened by rival answers.

#include <vector>

#include "ground/edge_line.hpp"
#include "ground/paint_seen.hpp"
#include "ground/view.hpp"

namespace lotwear {

/// What is believed before looking at edges. From a scale sheet: its pose. Otherwise how people hold a phone.
struct ViewPrior {
  ViewBelief belief;
  bool measured = false;  ///< from a sheet: one sharp answer, searched around only; else broad, searched everywhere
};

struct LikelyView {
  ViewBelief belief;
  bool from_edges = false;  ///< edges and sizes narrowed the tilt clearly below what the prior said
  bool from_sizes = false;  ///< sizes narrowed the height clearly
};

/// Phone in a hand: any pitch about 35 degrees, little lean, 1.5 m above the ground.
/// Hand height: eye height less a forearm's drop, 1.5 m +- 0.25 m (common practice, no source).
ViewPrior hand_held(const Camera& camera);

/// Where the ground ends upwards in the photo.
struct GroundTop {
  std::vector<ImagePoint> points;  ///< known to be ground
  bool is_end = false;             ///< the lot ends there, at a hedge, a wall, the sky; else only the photo does
};

/// Sizes count where the prior is not measured.
LikelyView likely_view(const ViewPrior& prior, const PaintSeen& seen, const GroundTop& top, cv::Size photo);
/// With edges alone, of which nobody knows yet what they belong to.
LikelyView likely_view(const ViewPrior& prior, const std::vector<EdgeLine>& edges, const GroundTop& top,
                       cv::Size photo);

}  // namespace lotwear
