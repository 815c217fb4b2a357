#include "marking/grow_mask.hpp"

#include <algorithm>
#include <limits>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr ushort kFar = std::numeric_limits<ushort>::max();

/// Half the width of every row of the disc, its middle pixel left out; the rows lie about the middle column.
std::vector<ushort> half_widths(int side) {
  const cv::Mat disc = cv::getStructuringElement(cv::MORPH_ELLIPSE, {side, side});
  std::vector<ushort> half;
  for (int r = 0; r < side; ++r)
    half.push_back(static_cast<ushort>(cv::countNonZero(disc.row(r)) / 2));
  return half;
}

/// Steps along the row to the nearest pixel that is set.
cv::Mat steps_to_set(const cv::Mat& mask) {
  cv::Mat steps(mask.size(), CV_16U);
  for (int r = 0; r < mask.rows; ++r) {
    const auto* in = mask.ptr<uchar>(r);
    auto* out = steps.ptr<ushort>(r);
    int since = kFar;
    for (int c = 0; c < mask.cols; ++c) {
      since = in[c] != 0 ? 0 : std::min<int>(since + 1, kFar);
      out[c] = static_cast<ushort>(since);
    }
    since = kFar;
    for (int c = mask.cols - 1; c >= 0; --c) {
      since = in[c] != 0 ? 0 : std::min<int>(since + 1, kFar);
      out[c] = std::min(out[c], static_cast<ushort>(since));
    }
  }
  return steps;
}

void take_within(const ushort* steps, ushort half, uchar* out, int cols) {
  for (int c = 0; c < cols; ++c)
    out[c] = static_cast<uchar>(out[c] | (steps[c] <= half ? 255 : 0));
}

}  // namespace

cv::Mat grown_by_disc(const cv::Mat& mask, int side) {
  require(mask.type() == CV_8U && side % 2 == 1, "masks of bytes are grown by discs that have a middle");
  const std::vector<ushort> half = half_widths(side);
  const cv::Mat steps = steps_to_set(mask);
  cv::Mat grown(mask.size(), CV_8U, cv::Scalar(0));
  for (int r = 0; r < mask.rows; ++r) {
    for (int k = std::max(0, side / 2 - r); k < std::min(side, mask.rows - r + side / 2); ++k)
      take_within(steps.ptr<ushort>(r + k - side / 2), half[static_cast<std::size_t>(k)], grown.ptr<uchar>(r),
                  mask.cols);
  }
  return grown;
}

cv::Mat shrunk_by_disc(const cv::Mat& mask, int side) {
  const cv::Mat rest = grown_by_disc(~mask, side);
  return ~rest;
}

}  // namespace lotwear
