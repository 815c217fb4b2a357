#pragma once
// Long straight edges of what the finder takes for paint, on the full-resolution photo.
// 1. outline of the finder's map, cut into straight runs
// 2. each run refined on the photo; where wear has eaten the edge, the map's own line with a larger error
// 3. runs on one line (a worn edge in pieces) become one edge: a long edge knows its direction better

#include <vector>

#include "detect/detect.hpp"
#include "ground/edge_line.hpp"

namespace lotwear {

/// Longest first, at most `most`. Edges along the photo's own border are left out.
std::vector<EdgeLine> straight_edges(const Photo& photo, const PaintMap& paint, std::size_t most = 24);

}  // namespace lotwear
