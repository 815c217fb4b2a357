#pragma once
// Legends as a stencil leaves them: letters of strokes with bridges, so that no piece has a hole.

#include <string>
#include <vector>

#include "base/geometry.hpp"

namespace lotwear::rendering {

/// Separate pieces of the words (capital letters; '/' starts a new line below), read from below, centred on (0, 0).
/// `height_mm` is one letter's height; letters on the ground are taller than wide: `width_share` of their height.
std::vector<GroundRing> legend(const std::string& words, double height_mm, double width_share, double stroke_mm);

}  // namespace lotwear::rendering
