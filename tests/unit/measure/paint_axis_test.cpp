// The line from bare pavement to paint, and shares read along it.
#include "measure/paint_axis.hpp"

#include <gtest/gtest.h>

#include <opencv2/core.hpp>

namespace lotwear {
namespace {

const cv::Vec3d kPaint(4, 3.8, 3.2);  // over pavement

/// Left half bare, right half the marking, painted by `share`.
PlanView half_painted(double share) {
  PlanView plan;
  plan.light = cv::Mat(20, 40, CV_32FC3, cv::Scalar(0.1, 0.1, 0.1));
  for (int k = 0; k < 3; ++k) {
    cv::Mat channel;
    cv::extractChannel(plan.light, channel, k);
    channel.colRange(20, 40) = 0.1 * (1 + share * (kPaint[k] - 1));
    cv::insertChannel(channel, plan.light, k);
  }
  plan.ours = cv::Mat::zeros(20, 40, CV_8U);
  plan.ours.colRange(20, 40) = 1;
  plan.beside = 1 - plan.ours;
  plan.clipped = cv::Mat::zeros(20, 40, CV_8U);
  plan.inside_mm = cv::Mat(20, 40, CV_32F);
  for (int c = 0; c < 40; ++c)
    plan.inside_mm.col(c) = c - 19.5;
  return plan;
}

const cv::Mat& bare() {
  static const cv::Mat light(20, 40, CV_32FC3, cv::Scalar(0.1, 0.1, 0.1));
  return light;
}

TEST(PaintSamples, AreOfTheDepthsAskedForAndOverPavement) {
  const PlanView plan = half_painted(1);
  const PaintSamples samples = paint_samples(plan, plan.light, bare(), 5, 10, {});
  EXPECT_EQ(samples.inside.size(), 5U * 20);
  EXPECT_EQ(samples.beside.size(), 20U * 20);
  for (int k = 0; k < 3; ++k) {
    EXPECT_NEAR(samples.inside[0][k], kPaint[k], 1e-5);
    EXPECT_NEAR(samples.beside[0][k], 1, 1e-5);
  }
}

TEST(PaintAxis, ReadsTheShareOfPaint) {
  for (const double share : {0.0, 0.3, 1.0}) {
    const PlanView plan = half_painted(share);
    const PaintAxis axis = axis_to(kPaint, paint_samples(plan, plan.light, bare(), 1, 1e9, {}), {});
    const cv::Mat x = coordinate(plan, bare(), axis);
    EXPECT_NEAR(x.at<float>(10, 5), 0, 1e-5);
    EXPECT_NEAR(x.at<float>(10, 30), share, 1e-5);
  }
}

TEST(PaintAxis, LeansOnChannelsThatAreNotClipped) {
  const PlanView plan = half_painted(1);
  PaintSamples samples = paint_samples(plan, plan.light, bare(), 1, 1e9, {});
  const PaintAxis open = axis_to(kPaint, samples, {});
  samples.clipped = {0.5, 0, 0};
  const PaintAxis clipped = axis_to(kPaint, samples, {});
  EXPECT_LT(clipped.weight[0], 0.3 * open.weight[0]);
  EXPECT_NEAR(clipped.at(kPaint), 1, 1e-9);
}

TEST(Coordinate, CutsOffWhatNoPaintReaches) {
  PlanView plan = half_painted(1);
  plan.light.at<cv::Vec3f>(3, 3) = {9, 9, 9};
  const PaintAxis axis = axis_to(kPaint, paint_samples(plan, plan.light, bare(), 1, 1e9, {}), {});
  EXPECT_EQ(coordinate(plan, bare(), axis).at<float>(3, 3), 3);
}

}  // namespace
}  // namespace lotwear
