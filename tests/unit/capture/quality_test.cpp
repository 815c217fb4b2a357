#include "capture/quality.hpp"

#include <gmock/gmock.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "capture/blur.hpp"
#include "support/edge_pictures.hpp"

namespace lotwear {
namespace {

using test::EdgePicture;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;

double blur(const EdgePicture& how) {
  const cv::Mat rgb = test::edge_picture(how);
  return blur_of(rgb, sample_photo(rgb)).value_or(-1);
}

/// The pixel's own square blurs too: its variance is 1/12.
double with_pixel(double sigma) { return std::hypot(sigma, std::sqrt(1 / 12.0)); }

class Blur : public ::testing::TestWithParam<double> {};

TEST_P(Blur, OfCleanEdgesIsTheTruth) {
  EdgePicture how;
  how.sigma = GetParam();
  how.noise = 1;
  EXPECT_NEAR(blur(how), with_pixel(how.sigma), 0.08 * with_pixel(how.sigma) + 0.08);
}

TEST_P(Blur, StandsNoise) {
  EdgePicture how;
  how.sigma = GetParam();
  how.noise = 8;
  EXPECT_NEAR(blur(how), with_pixel(how.sigma), 0.12 * with_pixel(how.sigma) + 0.08);
}

TEST_P(Blur, StandsCoarseStones) {
  EdgePicture how;
  how.sigma = GetParam();
  how.texture = 0.35;
  EXPECT_NEAR(blur(how), with_pixel(how.sigma), 0.12 * with_pixel(how.sigma) + 0.08);
}

TEST_P(Blur, StandsSharpening) {
  EdgePicture how;
  how.sigma = GetParam();
  how.noise = 2;
  for (const double radius : {1.2, 2.5}) {
    how.sharpen = 1;
    how.sharpen_radius = radius;
    // Without the sharpening in the model 1 pixel reads as 0.6, and 1.5 as 1.
    EXPECT_NEAR(blur(how), with_pixel(how.sigma), 0.35 * with_pixel(how.sigma)) << "radius " << radius;
  }
}
INSTANTIATE_TEST_SUITE_P(Sigmas, Blur, ::testing::Values(0.5, 1.0, 1.5, 2.0, 3.0, 5.0));

TEST(Shake, AlongOneDirectionIsSeen) {
  EdgePicture how;
  how.sigma = 0.8;
  how.noise = 2;
  for (const double length : {5.0, 9.0, 15.0}) {
    how.motion_px = length;
    const double truth = std::hypot(with_pixel(0.8), length / std::sqrt(12.0));
    EXPECT_NEAR(blur(how), truth, 0.2 * truth) << length;
  }
}

TEST(BareGround, IsSharpWithoutASingleEdge) {
  cv::Mat stones(900, 1200, CV_8UC1), rgb;
  cv::RNG(4).fill(stones, cv::RNG::NORMAL, 100, 35);
  cv::GaussianBlur(stones, stones, {}, 0.7);
  cv::cvtColor(stones, rgb, cv::COLOR_GRAY2RGB);
  const double sharp = blur_of(rgb, sample_photo(rgb)).value_or(9);
  EXPECT_LT(sharp, 1.1);
  // Its stones, once blurred, read sharper than they are: the known limit where no edge is longer than a stone.
  cv::GaussianBlur(rgb, rgb, {}, 5);
  EXPECT_GT(blur_of(rgb, sample_photo(rgb)).value_or(9), 2.0);
}

TEST(Advice, IsGivenForBlurOnly) {
  EdgePicture how;
  how.noise = 2;
  how.sigma = 0.9;
  const cv::Mat sharp = test::edge_picture(how);
  const Quality good = judge(sharp, sample_photo(sharp));
  EXPECT_THAT(good.advice, Not(Contains(HasSubstr("retake"))));
  EXPECT_GT(good.sharpness.value, 0.7);
  how.sigma = 4;
  const cv::Mat soft = test::edge_picture(how);
  const Quality bad = judge(soft, sample_photo(soft));
  EXPECT_THAT(bad.advice, Contains(HasSubstr("retake: the picture is blurred")));
  EXPECT_LT(bad.sharpness.value, 0.05);
}

TEST(Advice, BlankPictureIsHopeless) {
  const cv::Mat blank(600, 800, CV_8UC3, cv::Scalar(90, 90, 90));
  const Quality quality = judge(blank, sample_photo(blank));
  EXPECT_EQ(quality.sharpness.value, 0);
  EXPECT_THAT(quality.advice, Contains(HasSubstr("nothing in the picture is sharp")));
}

// exp(-2 (pi sigma / 8)^2): 0.735 at one pixel, 0.291 at two.
TEST(Sharpness, IsTheContrastLeftInFourPixelStripes) {
  EdgePicture how;
  how.noise = 1;
  how.sigma = 2;
  const cv::Mat rgb = test::edge_picture(how);
  const Quality quality = judge(rgb, sample_photo(rgb));
  EXPECT_NEAR(quality.sharpness.value, 0.291, 0.06);
}

TEST(Clipped, IsCountedInAnyChannel) {
  cv::Mat rgb(1000, 1000, CV_8UC3, cv::Scalar(90, 90, 90));
  rgb(cv::Rect(0, 600, 1000, 100)) = cv::Scalar(255, 180, 60);
  const Quality quality = judge(rgb, sample_photo(rgb));
  EXPECT_NEAR(quality.clipped.value, 0.10, 0.005);
  EXPECT_THAT(quality.advice, Contains(HasSubstr("15 % of the ground is burnt out")));
}

TEST(Clipped, SkyIsNoReasonToRetake) {
  cv::Mat rgb(1000, 1000, CV_8UC3, cv::Scalar(90, 90, 90));
  rgb(cv::Rect(0, 0, 1000, 300)) = cv::Scalar::all(255);
  const Quality quality = judge(rgb, sample_photo(rgb));
  EXPECT_NEAR(quality.clipped.value, 0.30, 0.005);
  EXPECT_THAT(quality.advice, Not(Contains(HasSubstr("burnt out"))));
}

TEST(Advice, DarkAndSmallPicturesAreNamed) {
  const cv::Mat dark(1500, 2000, CV_8UC3, cv::Scalar(20, 20, 20)), small(480, 640, CV_8UC3, cv::Scalar(120, 120, 120));
  EXPECT_THAT(judge(dark, sample_photo(dark)).advice, Contains(HasSubstr("too dark")));
  EXPECT_THAT(judge(dark, sample_photo(dark)).advice, Not(Contains(HasSubstr("original photo"))));
  EXPECT_THAT(judge(small, sample_photo(small)).advice, Contains(HasSubstr("only 640 x 480 pixels")));
}

TEST(Sample, OfTinyPicturesIsSafe) {
  for (const cv::Size size : {cv::Size(1, 1), cv::Size(32, 32), cv::Size(5000, 40), cv::Size(40, 5000)}) {
    const cv::Mat rgb(size, CV_8UC3, cv::Scalar(10, 200, 30));
    const Sample sample = sample_photo(rgb);
    EXPECT_FALSE(sample.grey);
    EXPECT_GE(judge(rgb, sample).blur_px, 0.3);
  }
}

}  // namespace
}  // namespace lotwear
