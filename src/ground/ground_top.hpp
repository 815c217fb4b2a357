#pragma once
// Where the ground ends upwards in the photo: a pose that puts these points above its horizon is improbable.

#include <vector>

#include "base/geometry.hpp"

namespace lotwear {

struct GroundTop {
  std::vector<ImagePoint> points;  ///< known to be ground
  bool is_end = false;             ///< the lot ends there, at a hedge, a wall, the sky; else only the photo does
};

}  // namespace lotwear
