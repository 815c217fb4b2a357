#pragma once
// Values that are known at some spots only, carried to everywhere: local where there are local ones, else from farther
// away. Light, levels of paint and their squares go from where they are seen to where they are wanted this way.

#include <opencv2/core/mat.hpp>

namespace lotwear {

/// Values known where `weight` > 0, carried to everywhere; 0 where there is no weight at all.
/// `values` CV_32F with any channels on a grid `mm` apart; `weight` CV_32F of the same size; `scale_mm` is the finest
/// blur.
cv::Mat carried(const cv::Mat& values, const cv::Mat& weight, double mm, double scale_mm);

}  // namespace lotwear
