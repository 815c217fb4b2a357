#pragma once
// Things that stand on the lot and are not pavement: wheel stops, bollards, cones, parked cars, slabs. Drawn over the picture
// of the ground, never over a marking; their shadows fall on the ground like everything else's.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "rendering/camera.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// Solids that stand in view and hide no marking and no sheet; adds their shadows to the scene's light.
void draw_solids(Random& random, Tier tier, ScenePlan& scene);

/// Wheel stops, slabs, boxes and boards of squares in the colours of markings, as many as the finder has to tell from markings.
void draw_look_alikes(Random& random, ScenePlan& scene);

/// A board of squares before the camera, hiding whatever lies behind it.
void hold_up_board(Random& random, ScenePlan& scene);

void paint_solids(cv::Mat& radiance, const Camera& camera, const ScenePlan& scene);

}  // namespace lotwear::rendering
