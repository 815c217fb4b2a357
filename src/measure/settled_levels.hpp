#pragma once
// One light level for every block, neighbours agreeing unless a shadow's edge runs between them: min-sum belief
// propagation with truncated linear smoothness, sweeps in four directions.

#include <opencv2/core/mat.hpp>

#include "measure/light_levels.hpp"

namespace lotwear {

/// `costs`: of each level in each block; `step`: between levels, log light; `turns`: sweeps there and back, both ways.
/// Returns the expected level, CV_32F, a block each, 0 .. levels - 1.
cv::Mat settled_levels(const BlockLevels& costs, double step, int turns);

}  // namespace lotwear
