#include "marking/straight_runs.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {
namespace {

/// The same by turning the whole mask and back.
cv::Mat slow_runs(const cv::Mat& mask, int k) {
  const int side = static_cast<int>(std::ceil(std::hypot(mask.cols, mask.rows))) + 2;
  cv::Mat turn = cv::getRotationMatrix2D(
      cv::Point2f(static_cast<float>(mask.cols) / 2, static_cast<float>(mask.rows) / 2), 180.0 * k / kDirections, 1);
  turn.at<double>(0, 2) += side / 2.0 - mask.cols / 2.0;
  turn.at<double>(1, 2) += side / 2.0 - mask.rows / 2.0;
  cv::Mat turned, length(side, side, CV_16U, cv::Scalar(0)), along;
  cv::warpAffine(mask, turned, turn, {side, side}, cv::INTER_NEAREST);
  for (int r = 0; r < side; ++r) {
    for (int c = 0, end = 0; c < side; c = std::max(end, c + 1)) {
      for (end = c; end < side && turned.at<uchar>(r, end) != 0; ++end)
        continue;
      length(cv::Rect(c, r, end - c, 1)) = end - c;
    }
  }
  cv::warpAffine(length, along, turn, mask.size(), cv::INTER_NEAREST | cv::WARP_INVERSE_MAP);
  along.setTo(0, mask == 0);
  return along;
}

TEST(StraightRuns, AreThoseOfTheTurnedMask) {
  for (const cv::Size size : {cv::Size(400, 30), cv::Size(61, 90), cv::Size(9, 300), cv::Size(1, 5)}) {
    cv::Mat mask(size, CV_8U, cv::Scalar(0));
    cv::RNG random(7);
    for (int i = 0; i < 6; ++i) {
      cv::line(mask, {random.uniform(0, size.width), random.uniform(0, size.height)},
               {random.uniform(0, size.width), random.uniform(0, size.height)}, cv::Scalar(255), random.uniform(1, 9));
    }
    const Runs runs = straight_runs(mask);
    for (int k = 0; k < kDirections; ++k)
      EXPECT_EQ(cv::countNonZero(runs.along[static_cast<std::size_t>(k)] != slow_runs(mask, k)), 0)
          << size << " way " << k;
  }
}

}  // namespace
}  // namespace lotwear
