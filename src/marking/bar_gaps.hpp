#pragma once
// A broken line and a line worn through look alike to the finder: paint, bare pavement, paint. What was never painted
// ends in straight cuts across the whole line, with whole paint right up to them and no speck between.

#include <vector>

#include "marking/edge_search.hpp"
#include "marking/patch.hpp"

namespace lotwear {

/// Columns of a patch, from the first bare one to the first painted one again.
struct Gap {
  double from = 0, to = 0;
};

/// Gaps of a stripe that lies along x in its patch, between columns `x0` and `x1`; the long edges are those of
/// `search_edge` with x0 and x1 as they are here. First to last; empty for a stripe that is one.
std::vector<Gap> unpainted_gaps(const Patch& patch, const FoundEdge& upper, const FoundEdge& lower, int x0, int x1);

}  // namespace lotwear
