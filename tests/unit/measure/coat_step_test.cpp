// What a network takes for two coats must differ in brightness, everywhere the same way.
#include "measure/coat_step.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {
namespace {

/// A marking of 300 x 96 pixels with round patches that the network takes for an older coat.
struct Seen {
  cv::Mat input, chances;
};

/// `step`: log of light of the patches over the rest; `film`: how much darker the marking is at one end than at the
/// other; `noise`: spread of single pixels.
Seen seen(double step, double film, double noise, double other_half = 1) {
  const cv::Size size(300, 96);
  Seen out{cv::Mat(size, CV_32FC4), cv::Mat(size, CV_32FC3)};
  cv::RNG dice(3);
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const double from_patch = std::hypot(r % 32 - 16, c % 32 - 16);
      const bool patch = from_patch < 8;
      const double of_half = c < size.width / 2 ? 1 : other_half;
      const auto level =
          static_cast<float>((patch ? step * of_half : 0) - film * c / size.width + dice.gaussian(noise));
      out.input.at<cv::Vec4f>(r, c) = {level, level, level, 1};
      out.chances.at<cv::Vec3f>(r, c) = patch ? cv::Vec3f(0, 0.4F, 0.6F) : cv::Vec3f(0, 0.9F, 0.1F);
    }
  }
  return out;
}

CoatStep step_of(const Seen& one) { return step_between(one.input, one.chances, 0.5F); }

TEST(CoatStep, DarkerOrPalerPatchesAreToldByTheirStep) {
  for (const double step : {-0.2, 0.2}) {
    const CoatStep found = step_of(seen(step, 0, 0.05));
    EXPECT_NEAR(found.step, step, 0.02);
    EXPECT_TRUE(found.shows());
  }
  EXPECT_TRUE(step_of(seen(-0.06, 0, 0.05)).shows());
  EXPECT_FALSE(step_of(seen(-0.02, 0, 0.05)).shows());  // film does as much
}

TEST(CoatStep, WithoutAStepThereIsNoOtherCoatWhateverTheChances) {
  EXPECT_FALSE(step_of(seen(0, 0, 0.05)).shows());
  EXPECT_FALSE(step_of(seen(0, 0, 0.3)).shows());
}

TEST(CoatStep, FilmAlongTheMarkingDropsOut) {
  EXPECT_FALSE(step_of(seen(0, 0.8, 0.05)).shows());
  EXPECT_NEAR(step_of(seen(-0.2, 0.8, 0.05)).step, -0.2, 0.03);
}

TEST(CoatStep, PalerHereAndDarkerThereIsNoCoat) { EXPECT_FALSE(step_of(seen(-0.2, 0, 0.05, -1)).shows()); }

TEST(CoatStep, UnevenLightIsForgivenWhereAllBlocksAgreeWhichSideTheOlderCoatIsOn) {
  CoatStep uneven{60, -0.21, 0.27, 1};
  EXPECT_TRUE(uneven.shows());
  uneven.one_way = 0.94;
  EXPECT_FALSE(uneven.shows());
  EXPECT_FALSE((CoatStep{6, -0.21, 0.27, 1}.shows()));  // six of six is chance
  EXPECT_FALSE((CoatStep{60, -0.21, 0.5, 1}.shows()));
}

TEST(CoatStep, LeansWhereMostBlocksAgreeAndTheirSpreadIsNoWiderThanTheStep) {
  EXPECT_TRUE((CoatStep{60, -0.15, 0.14, 0.85}.leans()));
  EXPECT_FALSE((CoatStep{60, -0.15, 0.14, 0.85}.shows()));
  EXPECT_FALSE((CoatStep{60, -0.15, 0.17, 0.85}.leans()));
  EXPECT_FALSE((CoatStep{60, -0.15, 0.14, 0.7}.leans()));
  EXPECT_FALSE((CoatStep{8, -0.15, 0.14, 0.85}.leans()));
  EXPECT_FALSE((CoatStep{60, -0.02, 0.01, 1}.leans()));  // film does as much
}

TEST(CoatStep, WhatIsMixedWithBarePavementSaysNothing) {
  Seen scene = seen(-0.2, 0, 0.05);
  for (cv::Vec3f& chance : cv::Mat_<cv::Vec3f>(scene.chances))
    if (chance[2] > 0.5F) chance = {0.45F, 0, 0.55F};
  EXPECT_EQ(step_of(scene).blocks, 0);
}

}  // namespace
}  // namespace lotwear
