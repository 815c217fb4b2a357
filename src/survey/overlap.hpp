#pragma once
// How much two outlines share, without pixels: exact along x, sampled on lines across y.

#include <vector>

#include "base/geometry.hpp"

namespace lotwear {

/// Area of the overlap over the area of both together, 0..1; rings of one outline count as one figure. 0 where either
/// is empty.
double shared_share(const std::vector<ImageRing>& one, const std::vector<ImageRing>& other);

}  // namespace lotwear
