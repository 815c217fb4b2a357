#pragma once
// The same scene drawn once more without light: what lies at every pixel of the photo.

#include <opencv2/core/mat.hpp>

#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// CV_8UC3 RGB on the pixels of the scene's photo, 250 for all of it: share of top coat, of older coat, and of what
/// the top coat flaked off from, an older coat or bare.
cv::Mat true_shares(ScenePlan plan);

}  // namespace lotwear::rendering
