#pragma once
// Broken, loose or never paved ground.

#include "rendering/ground_raster.hpp"
#include "rendering/random.hpp"

namespace lotwear::rendering {

void lay_rubble(Strip& strip, const PavementPlan& plan);

/// Crumbled places, a verge of gravel or litter beside the lot, or pavement that shows its stones all over. No marking
/// lies on what has gone to pieces.
void draw_rubble(Random& random, ScenePlan& scene);

}  // namespace lotwear::rendering
