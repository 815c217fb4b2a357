#pragma once
// Where the finder is unsure, colour decides: a cell that looks like the paint near by is painted, one that looks like the
// pavement near by is not. Where it is sure it keeps its word, worn-through places included.

#include "detect/detect.hpp"

namespace lotwear {

/// PaintMap::footprint, settled. Good for fitting shapes; stripes worn nearly away are lost in it.
cv::Mat settle_doubt(const PaintMap& paint);

}  // namespace lotwear
