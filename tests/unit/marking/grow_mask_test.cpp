#include "marking/grow_mask.hpp"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

namespace lotwear {
namespace {

/// Blots and single pixels, some of them on the border.
cv::Mat blotted(cv::Size size, std::uint64_t seed) {
  cv::RNG random(seed);
  cv::Mat mask(size, CV_8U, cv::Scalar(0));
  for (int i = 0; i < 12; ++i) {
    const cv::Point at(random.uniform(0, size.width), random.uniform(0, size.height));
    cv::circle(mask, at, random.uniform(0, 9), cv::Scalar(255), cv::FILLED);
  }
  return mask;
}

bool same(const cv::Mat& a, const cv::Mat& b) { return cv::countNonZero(a != b) == 0; }

TEST(GrowMask, GrowsAndShrinksAsOpenCvDoes) {
  for (const int side : {1, 3, 5, 7, 21, 43}) {
    const cv::Mat disc = cv::getStructuringElement(cv::MORPH_ELLIPSE, {side, side});
    for (const cv::Size size : {cv::Size(90, 61), cv::Size(17, 130), cv::Size(1, 9)}) {
      const cv::Mat mask = blotted(size, static_cast<std::uint64_t>(side));
      cv::Mat grown, shrunk;
      cv::dilate(mask, grown, disc);
      cv::erode(mask, shrunk, disc);
      EXPECT_TRUE(same(grown_by_disc(mask, side), grown)) << side << " on " << size;
      EXPECT_TRUE(same(shrunk_by_disc(mask, side), shrunk)) << side << " on " << size;
    }
  }
}

TEST(GrowMask, NothingGrowsToNothing) {
  EXPECT_EQ(cv::countNonZero(grown_by_disc(cv::Mat::zeros(20, 30, CV_8U), 9)), 0);
}

}  // namespace
}  // namespace lotwear
