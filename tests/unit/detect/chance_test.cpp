#include "detect/chance.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace lotwear {
namespace {

constexpr int kSide = 24;

FinderDescription doubting() {
  FinderDescription about;
  about.doubt_coat_near = {0.0, 0.3};
  about.doubt_power = {6.0, 1.0};
  about.doubt_not_ground = {0.0, 1.0};
  about.doubt_thing_power = {1.0, 40.0};
  return about;
}

/// The same shares everywhere.
PaintMap even(float pavement, float thing, float coat, float flaked) {
  const auto map_of = [](float share) { return cv::Mat(kSide, kSide, CV_32F, cv::Scalar(static_cast<double>(share))); };
  PaintMap map;
  map.pavement = map_of(pavement), map.not_ground = map_of(thing), map.top_coat = map_of(coat), map.lost_flaked = map_of(flaked);
  map.older_coat = map_of(0), map.lost_abraded = map_of(0), map.lost_cracked = map_of(0);
  return map;
}

float footprint(const PaintMap& map) { return chance_of_paint(map, doubting()).footprint.at<float>(kSide / 2, kSide / 2); }

TEST(ChanceOfPaint, SoundCoatIsBelieved) { EXPECT_NEAR(footprint(even(0.1F, 0, 0.9F, 0)), 0.9F, 0.01F); }

TEST(ChanceOfPaint, LossIsBelievedOnlyBesideCoat) {
  const float alone = footprint(even(0.3F, 0, 0, 0.7F));
  EXPECT_NEAR(alone, std::pow(0.7F, 6.0F), 0.01F);
  EXPECT_NEAR(footprint(even(0.3F, 0, 0.35F, 0.35F)), 0.7F, 0.01F);
  // the guess leaves that doubt out
  EXPECT_NEAR(chance_of_paint(even(0.3F, 0, 0, 0.7F), doubting()).guess.at<float>(3, 3), 0.7F, 0.01F);
}

TEST(ChanceOfPaint, AThingCountsByItsOddsAgainstBarePavementAndTheLessTheSurerItIsOne) {
  EXPECT_LT(footprint(even(0.005F, 0.95F, 0.045F, 0)), 0.05F);
  EXPECT_GT(footprint(even(0.005F, 0.1F, 0.895F, 0)), 0.9F);
}

TEST(ChanceOfPaint, ItIsAChanceWhateverTheShares) {
  for (const float coat : {0.0F, 0.5F, 1.0F}) {
    for (const float thing : {0.0F, 0.5F, 1.0F}) {
      const float chance = footprint(even(0, thing, coat, 0));
      EXPECT_GE(chance, 0.0F);
      EXPECT_LE(chance, 1.0F);
    }
  }
}

}  // namespace
}  // namespace lotwear
