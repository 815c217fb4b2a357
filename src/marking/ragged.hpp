#pragma once
// Paint is laid with a stencil, a machine or a brush: however worn, stretches of its outline stay straight or evenly
// curved. What pale pavement, moss and bark leave on the finder's map frays all around.

#include <vector>

#include "base/geometry.hpp"

namespace lotwear {

/// True for outlines that wind on and on with hardly a stretch as long as a fourth of the marking's size.
bool is_ragged(const std::vector<GroundRing>& rings);

}  // namespace lotwear
