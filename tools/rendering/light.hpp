#pragma once
// Sun and sky on the raster: the albedo planes become radiance.

#include <vector>

#include "rendering/ground_raster.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// Share of the sun that reaches the ground, on a coarse grid.
struct ShadowMap {
  double cell_mm = 8, left_mm = 0, top_mm = 0;
  cv::Mat sun;  ///< CV_32F, 0 in full shade .. 1
  float at(float x, float y) const;
};

ShadowMap cast_shadows(const LightPlan& light, const GroundRing& visible);

/// `camera`: what water mirrors hangs on where it is seen from.
void light_up(Strip& strip, const LightPlan& light, const ShadowMap& shadows, const CameraPlan& camera);

}  // namespace lotwear::rendering
