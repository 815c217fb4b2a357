#pragma once
// What lies at every pixel of the photo, as the finder's layers and kinds have it; from the raster, never from the
// picture.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "rendering/camera.hpp"
#include "rendering/ground_raster.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// On the photo's pixels. Leaves, soil, water and shadows change nothing; the scale sheet is pavement.
struct TrueLayers {
  cv::Mat coats;   ///< CV_32FC3: top coat, older coat, lost by flaking
  cv::Mat losses;  ///< CV_32FC3: lost by abrasion, by cracks; not ground (solids, backdrop, sky)
  cv::Mat kinds;   ///< CV_8U: 1 + Kind of the marking whose outline lies here, however worn; 0 none or hidden
};

/// Strips with `coats` and `losses`, painted to the end. Throws away nothing of them.
TrueLayers see_layers(const Camera& camera, const std::vector<Strip>& strips, const ScenePlan& plan, double far_mm);

/// Rings on the ground as the photo shows them, in its pixels; straight edges bend a little in the lens.
std::vector<ImageRing> through_lens(const Camera& camera, const std::vector<GroundRing>& rings);

}  // namespace lotwear::rendering
