#pragma once
// How blurred a photo is: the sigma of the Gaussian that its sharpest edges are smeared by. Encoded values throughout,
// for those are what cameras sharpen.
// 1. in each field of a grid take the place with the strongest contrast (from the sparse sample) at full resolution
// 2. fit a blurred step to the profile across the strongest edge there. A camera's sharpening makes edges steeper, with
//    a halo, so the step may be sharpened: for the whole photo by what explains all profiles best
// 3. of the profiles that are a step and little else take the sharp quarter. A shaken photo is sharp across one
//    direction only, so the worst direction counts
// 4. stones are no steps: sharp bare asphalt has no clean edge but soft shadows. So the roughness of the ground bounds
//    the blur from above. Blurred bare ground still reads up to half too sharp; with any marking in view it does not

#include <opencv2/core/mat.hpp>
#include <optional>

#include "capture/sample.hpp"

namespace lotwear {

/// Sigma in photo pixels (0.3 to 8), nothing when the picture has neither edges nor roughness to judge by.
std::optional<double> blur_of(const cv::Mat& rgb, const Sample& sample);

}  // namespace lotwear
