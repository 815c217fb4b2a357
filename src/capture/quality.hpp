#pragma once
// Is the photo good enough to measure in, and what should the person change while still on the lot?

#include "capture/photo.hpp"
#include "capture/sample.hpp"

namespace lotwear {

/// Sharpness is the contrast that survives in stripes four pixels wide: exp(-2 (pi sigma / 8)^2), the Gaussian's
/// transfer at one cycle in eight pixels. A picture without any edge counts as hopeless: either nothing is in it, or it
/// is all blur.
Quality judge(const cv::Mat& rgb, const Sample& sample);

}  // namespace lotwear
