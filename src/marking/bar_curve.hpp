#pragma once
// A line along a curb's return, an island or a bend of the road: two edges that bow together, by far more than a lens
// bends them.

#include <opencv2/core/mat.hpp>

#include "marking/edge_search.hpp"

namespace lotwear {

struct CurvedEdges {
  FoundEdge upper, lower;  ///< one bow for both
  double score = 0;        ///< mean eased step along both, comparable with `score_along`
};

/// The pair of edges, one bow for both, that adds up best about a straight guess. `width`: about how wide the stripe is, in
/// rows; `step` and `inside` as in `search_edge`.
CurvedEdges search_curve(const cv::Mat& step, const cv::Mat& inside, int x0, int x1, double middle, double width);

/// Mean over the columns of the weaker edge's eased step, for any pair of edges: 0 none, 0.12 the most there can be.
double score_along(const cv::Mat& step, const cv::Mat& inside, int x0, int x1, const FoundEdge& upper, const FoundEdge& lower);

}  // namespace lotwear
