#pragma once
// A stripe that goes on beyond the ends the finder's map has for it: into shade or sun, where its coat is duller, where
// the map broke off.

#include "capture/photo.hpp"
#include "ground/ground.hpp"
#include "marking/bars.hpp"

namespace lotwear {

/// The bar as far as the photo shows its own line on, light on both sides of dark pavement or the other way round, as
/// the bar itself is; each end by its own. The bar as it was where nothing follows. Edges are still to be refined.
Bar reach_on(const FittedBar& found, const Photo& photo, const Ground& ground);

}  // namespace lotwear
