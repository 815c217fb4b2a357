// Values known at some spots, carried to where nothing is known.
#include "measure/carried.hpp"

#include <gtest/gtest.h>

#include <opencv2/core.hpp>

namespace lotwear {
namespace {

TEST(Carried, LeavesWhatIsTheSameEverywhere) {
  cv::Mat weight = cv::Mat::zeros(40, 60, CV_32F);
  weight.at<float>(5, 7) = 1, weight.at<float>(30, 50) = 0.2F;
  const cv::Mat all = carried(cv::Mat(40, 60, CV_32FC2, cv::Scalar(0.4, -2)), weight, 8, 10);
  for (int r = 0; r < all.rows; ++r) {
    for (int c = 0; c < all.cols; ++c) {
      EXPECT_NEAR(all.at<cv::Vec2f>(r, c)[0], 0.4, 1e-3);
      EXPECT_NEAR(all.at<cv::Vec2f>(r, c)[1], -2, 1e-3);
    }
  }
}

TEST(Carried, BelievesWhatIsNear) {
  cv::Mat values = cv::Mat::zeros(20, 100, CV_32F), weight = cv::Mat::zeros(20, 100, CV_32F);
  values.colRange(0, 10) = 1;
  weight.colRange(0, 10) = 1, weight.colRange(90, 100) = 1;
  const cv::Mat all = carried(values, weight, 8, 16);
  EXPECT_GT(all.at<float>(10, 14), 0.95);
  EXPECT_LT(all.at<float>(10, 85), 0.05);
}

TEST(Carried, IsNothingWhereNothingIsKnown) {
  const cv::Mat all = carried(cv::Mat::ones(9, 9, CV_32F), cv::Mat::zeros(9, 9, CV_32F), 8, 16);
  EXPECT_EQ(all.at<float>(4, 4), 0);
}

}  // namespace
}  // namespace lotwear
