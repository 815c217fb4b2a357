#pragma once
// How far a mask goes on through each of its pixels, in a fan of directions: what tells stripes apart that cross or
// touch.

#include <array>
#include <opencv2/core/mat.hpp>

namespace lotwear {

constexpr int kDirections = 24;
struct Runs {
  std::array<cv::Mat, kDirections> along;  ///< CV_16U, pixels
  cv::Mat longest;                         ///< CV_16U, of all directions
  cv::Mat direction;                       ///< CV_8U, the longest one's
};

/// Straight runs of the mask through every pixel, in each of kDirections over half a turn.
Runs straight_runs(const cv::Mat& mask);

}  // namespace lotwear
