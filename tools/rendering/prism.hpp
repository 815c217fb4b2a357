#pragma once
// A part of a solid, set down on the ground.

#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// Foot and top rings of a part on the ground plan.
struct Prism {
  GroundRing foot, top;
};
Prism prism_of(const SolidPart& part, const Solid& solid);

}  // namespace lotwear::rendering
