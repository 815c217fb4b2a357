#pragma once
// Two photos of one walk -> how the ground of one lies on that of the other, if they show the same spot.
// 1. spots that look alike in both, and only once each
// 2. the one map of a plane on which most of them agree; lengths and angles may differ by what scales and tilts are off
// 3. what no stencil repeats (stones, stains, cracks, wear) compared under that map: two arrows of one stencil on two
//    spots agree in 2 and not in 3

#include <optional>

#include "base/geometry.hpp"
#include "overlap/ground_look.hpp"

namespace lotwear {

struct SameGround {
  GroundFromGround second_from_first;
  int agreeing = 0;        ///< spots that lie where the map says
  double likeness = 0;     ///< of what only one spot has, -1 .. 1: middle of the correlations, a square of 16 cm each
  double confidence = 0;   ///< 0 .. 1: that it is the same ground
  double compared_m2 = 0;  ///< where that could be compared
};

/// Nothing where the photos do not show the same spot, or too little of it to tell.
std::optional<SameGround> same_ground(const GroundLook& first, const GroundLook& second);

}  // namespace lotwear
