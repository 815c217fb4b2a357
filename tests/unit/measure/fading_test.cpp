// How faded: one marking alone leaves it open, several on one pavement tell.
#include "measure/fading.hpp"

#include <gtest/gtest.h>

namespace lotwear {
namespace {

constexpr double kAsphalt = 0.13;  // an asphalt a quarter lighter than the middle one

PaintOverPavement white_of(double reflectance) {
  PaintOverPavement seen;
  seen.ratio = {reflectance / kAsphalt, reflectance / kAsphalt, 0.96 * reflectance / kAsphalt};
  seen.colour = Colour::white;
  seen.chance_of_concrete = 0.1;
  seen.error = 0.03;
  return seen;
}

/// Chalked by a share, on this asphalt.
double faded_white(double share) { return 0.75 + share * (0.25 * 0.585 + 0.75 * kAsphalt - 0.75); }

TEST(Fading, FreshPaintBesideFadedTellsHowDarkThePavementIs) {
  const PaintOverPavement fresh = white_of(0.75), faded = white_of(faded_white(0.5));
  const double alone = fading_of({faded}).front().value.value;
  const std::vector<Interval> both = fading_of({fresh, faded});
  EXPECT_LT(both[0].value.value, 0.05);
  EXPECT_GT(both[1].value.value, alone + 0.1);
  EXPECT_GT(both[1].high.value, 0.35);
}

TEST(Fading, EquallyBrightMarkingsDoNotFadeOneAnother) {
  const std::vector<Interval> both = fading_of({white_of(0.75), white_of(0.72)});
  EXPECT_LT(both[0].value.value, 0.05);
  EXPECT_LT(both[1].value.value, 0.05);
}

TEST(Fading, ClippedPaintMayBeAnyBrighter) {
  // Yellow in the sun: red and green stop at the top of the scale, which takes its hue and its brightness.
  PaintOverPavement seen;
  seen.ratio = {3.4, 3.0, 0.45};
  seen.colour = Colour::yellow;
  seen.chance_of_concrete = 0.1;
  seen.error = 0.03;
  const Interval as_if_whole = fading_of({seen}).front();
  seen.clipped = {true, true, false};
  const Interval clipped = fading_of({seen}).front();
  EXPECT_GT(as_if_whole.value.value, clipped.value.value + 0.05);
}

TEST(Fading, WhatLiesOnAPaintedFieldSaysNothingOfThePavement) {
  const PaintOverPavement plain = white_of(faded_white(0.4));
  PaintOverPavement on_field = white_of(0.75);
  on_field.on_field = true;
  const Interval alone = fading_of({plain}).front(), beside = fading_of({plain, on_field}).front();
  EXPECT_DOUBLE_EQ(alone.low.value, beside.low.value);
  EXPECT_DOUBLE_EQ(alone.value.value, beside.value.value);
  EXPECT_DOUBLE_EQ(alone.high.value, beside.high.value);
}

TEST(Fading, OrderOfTheMarkingsDoesNotMatter) {
  const PaintOverPavement a = white_of(0.75), b = white_of(faded_white(0.3)), c = white_of(faded_white(0.6));
  const std::vector<Interval> one = fading_of({a, b, c}), two = fading_of({c, b, a});
  EXPECT_NEAR(one[0].value.value, two[2].value.value, 1e-9);
  EXPECT_NEAR(one[1].high.value, two[1].high.value, 1e-9);
}

}  // namespace
}  // namespace lotwear
