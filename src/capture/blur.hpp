#pragma once
// How blurred a photo is: the sigma of the Gaussian that its sharpest edges are smeared by. Encoded values throughout,
// for those are what cameras sharpen.
// 1. in each field of a grid take the place with the strongest contrast (from the sparse sample), look at it at full
// resolution
// 2. take the profile across the strongest edge there and fit a blurred step to it. A camera's sharpening makes edges
// steeper,
//    with a halo beside them, so the step may be sharpened; how much is the same for the whole photo: what explains all
//    best
// 3. of the profiles that are a step and little else take the sharp quarter. A shaken photo is sharp across one
// direction
//    only, so the worst direction counts
// 4. stones are no steps: sharp bare asphalt has no clean edge but soft shadows. So the roughness of the ground bounds
// the
//    blur from above, the same way

#include <opencv2/core/mat.hpp>
#include <optional>

#include "capture/sample.hpp"

namespace lotwear {

/// Sigma in photo pixels (0.3 to 8), nothing when the picture has neither edges nor roughness to judge by.
std::optional<double> blur_of(const cv::Mat& rgb, const Sample& sample);

}  // namespace lotwear
