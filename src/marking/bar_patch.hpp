#pragma once
// A bar in a patch of its own, lying along x, and its two long edges there.

#include <opencv2/core/mat.hpp>

#include "marking/bars.hpp"
#include "marking/edge_search.hpp"

namespace lotwear {

/// Long edges of the bar in its own patch: the upper (paint begins) and the lower (paint ends).
struct LongEdges {
  FoundEdge upper, lower;
};

/// The bar's own patch, the bar along x.
struct BarPatch {
  const Bar& bar;
  PatchPlace place;
  Patch patch;
  cv::Mat step;
  double cell = 0, x_start = 0, x_end = 0, y_middle = 0, half = 0;  // pixels
  int x0 = 0, x1 = 0;   // the ends are unsure: edges are searched between these
  double ends_off = 0;  // how much more unsure than a straight bar's, pixels

  double span() const { return std::max(1, x1 - x0); }
};

/// `aside_mm`: how much more than the bar itself is looked at to either side.
BarPatch patch_of(const Bar& bar, const Photo& photo, const Ground& ground, double aside_mm = 0);

LongEdges search_long_edges(const BarPatch& b);

}  // namespace lotwear
