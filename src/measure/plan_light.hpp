#pragma once
// The photo's light on the grid of a plan: the mean over each plan pixel, and single photo pixels where these are much
// finer. Linear light as sRGB primaries, 0..1; maps have the plan's size, and the plan's grid must be laid before.
// Spots outside the photo or behind the camera stay dark and unseen.

#include <opencv2/core/mat.hpp>

#include "capture/photo.hpp"
#include "ground/ground.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

/// Fills `light` and `clipped` of `plan`: the photo looked up at every plan pixel, averaged in linear light over
/// `taps` x `taps` spots of it, `taps` 1 to 3. Returns where the photo shows the ground, CV_8U, 1 or 0.
cv::Mat sample_photo(const Photo& photo, const Ground& ground, int taps, PlanView& plan);

/// Fills `fine` and `sample_step` of `plan`, where `ours` and `beside` are marked. Where plan pixels are means over
/// many of the photo's, worn paint shows no pure pixel; in the photo it often does. One photo pixel for every few plan
/// pixels is enough to find the level of pure paint.
void sample_single_pixels(const Photo& photo, const Ground& ground, PlanView& plan);

}  // namespace lotwear
