#pragma once
// Straight stripes as the photo has them: edges refined, followed beyond the ends that the finder's map gave them.

#include <vector>

#include "capture/photo.hpp"
#include "ground/ground.hpp"
#include "marking/bars.hpp"

namespace lotwear {

/// One for one; `as_mapped` without what was only followed: the plane is known by it, as a road bends further on.
struct FittedBars {
  std::vector<FittedBar> whole, as_mapped;
};

/// Bars whose edges the photo shows. What goes on beyond its ends is refined anew and takes in what else the map has of the
/// same stripe.
FittedBars fit_bars(const std::vector<Bar>& bars, const Photo& photo, const Ground& ground);

}  // namespace lotwear
