// Which finds are dropped because nothing says that anybody painted there.
#include "app/nothing_painted.hpp"

#include <gtest/gtest.h>

namespace lotwear {
namespace {

Condition left(double low, double value, double high, double any_coat) {
  Condition condition;
  condition.remaining = {Fraction{low}, Fraction{value}, Fraction{high}};
  condition.any_coat = Fraction{any_coat};
  return condition;
}

TEST(NothingPainted, NextToNoPaintIsNoMarkingHoweverSureItsShape) {
  EXPECT_TRUE(nothing_says_painted(left(0, 0.02, 0.06, 0.02), Fraction{0.97}));
}

TEST(NothingPainted, AGuessThatMayBeNothingIsDropped) {
  EXPECT_TRUE(nothing_says_painted(left(0, 0.16, 0.33, 0.16), Fraction{0.51}));
}

TEST(NothingPainted, AMarkingWornToItsLastStaysWhereItsShapeIsSure) {
  EXPECT_FALSE(nothing_says_painted(left(0, 0.06, 0.15, 0.06), Fraction{0.9}));
}

TEST(NothingPainted, AGuessStaysWherePaintIsSure) {
  EXPECT_FALSE(nothing_says_painted(left(0.05, 0.16, 0.3, 0.16), Fraction{0.4}));
  EXPECT_FALSE(nothing_says_painted(left(0, 0.4, 0.8, 0.4), Fraction{0.4}));
}

TEST(NothingPainted, AnOlderCoatUnderneathIsPaintToo) {
  EXPECT_FALSE(nothing_says_painted(left(0, 0.02, 0.1, 0.6), Fraction{0.4}));
}

}  // namespace
}  // namespace lotwear
