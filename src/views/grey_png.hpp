#pragma once
// PNG with a physical size, which OpenCV's and cairo's writers leave out.

#include <opencv2/core/mat.hpp>
#include <string>

namespace lotwear {

/// Bytes of `grey` (CV_8U) as a PNG that says how many dots per inch it has. Throws Failure when it cannot be encoded.
std::string grey_png(const cv::Mat& grey, double dpi);

}  // namespace lotwear
