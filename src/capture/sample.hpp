#pragma once
// One sparse pass over the picture (every few rows, a few neighbouring pixels each) that answers what needs no more:
// how much is clipped, whether there is colour, how light it is, and where contrast is strong enough to judge
// sharpness.

#include <opencv2/core/mat.hpp>

#include "base/units.hpp"

namespace lotwear {

struct Sample {
  cv::Mat green;             ///< CV_8UC1, mean encoded green at each place
  int step = 1;              ///< photo pixels between places; place (i, j) is around pixel (i * step, j * step)
  Fraction clipped{};        ///< of the sampled pixels: any channel at the top of the scale
  Fraction clipped_below{};  ///< the same in the lower two thirds, where the pavement is
  bool grey = false;         ///< no sampled pixel has a colour
};

Sample sample_photo(const cv::Mat& rgb);

}  // namespace lotwear
