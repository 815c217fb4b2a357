#pragma once
// The most probable camera pose from how a phone is held and from straight edges of markings.
//
// Painted edges share directions: two edges of a stripe, rows of stalls, stop lines square to them. A pose is probable
// when, laid down on its ground, edges come out parallel (or square) to others more exactly than chance would have it.
// Edges of one stripe or one shape of the trade keep the angles of its drawing: an object stands in the comparison with
// one direction, and answers for its own edges much more exactly than strangers agree (laid_object, laid_edges).
// Every edge counts as a mixture: direction shared with some other edge, or any direction at all in the photo (arrow
// heads, letters), so no edge can spoil the answer. Densities are per angle in the *photo*; per angle on the ground, a
// view so flat that it squeezes all directions together would look like perfect agreement.
// Sizes of stripes and shapes, where they are known already, weigh in beside the edges (seen_sizes).
// Poses that put paint or pavement above the horizon are ruled out. Search: a coarse grid with blunt tolerances, then
// the best few sharpened step by step (pose_search); the covariance from the curvature, widened by rival answers
// (pose_spread). What a pose is worth stands in pose_posterior.

#include <vector>

#include "ground/edge_line.hpp"
#include "ground/ground_top.hpp"
#include "ground/paint_seen.hpp"
#include "ground/view.hpp"
#include "ground/view_prior.hpp"

namespace lotwear {

struct LikelyView {
  ViewBelief belief;
  bool from_edges = false;  ///< edges and sizes narrowed the tilt clearly below what the prior said
  bool from_sizes = false;  ///< sizes narrowed the height clearly
};

/// Sizes count where the prior is not measured.
LikelyView likely_view(const ViewPrior& prior, const PaintSeen& seen, const GroundTop& top, cv::Size photo);
/// With edges alone, of which nobody knows yet what they belong to.
LikelyView likely_view(const ViewPrior& prior, const std::vector<EdgeLine>& edges, const GroundTop& top,
                       cv::Size photo);

}  // namespace lotwear
