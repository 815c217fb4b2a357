#pragma once
// Small clean text on pictures, drawn by Cairo without hinting or subpixel tricks: the same bytes whatever the
// desktop's font settings say.

#include <opencv2/core/mat.hpp>
#include <string>

#include "views/palette.hpp"

namespace lotwear {

/// Coverage of the words, 0..255, in a box that holds them with the height of a line. CV_8U.
/// size_px  height of the letters' em
cv::Mat lettering(const std::string& words, double size_px);

/// Lays `ink` through `mask` (CV_8U) on `rgb` (CV_8UC3), top-left corner at `at`; what falls outside is left out.
void lay_ink(cv::Mat& rgb, const cv::Mat& mask, cv::Point at, Ink ink);

}  // namespace lotwear
