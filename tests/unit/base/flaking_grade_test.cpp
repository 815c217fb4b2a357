#include "base/flaking_grade.hpp"

#include <gtest/gtest.h>

namespace lotwear {
namespace {

using namespace literals;

// ISO 4628-5 Table 1, from memory: class 0 to 5 is 0, 0.1, 0.3, 1, 3, 15 % of the area.
TEST(FlakingGrade, TheQuantitiesOfTheStandardGetTheirOwnClass) {
  EXPECT_EQ(flaking_grade(0_percent, 5_mm).density, 0);
  EXPECT_EQ(flaking_grade(0.1_percent, 5_mm).density, 1);
  EXPECT_EQ(flaking_grade(0.3_percent, 5_mm).density, 2);
  EXPECT_EQ(flaking_grade(1_percent, 5_mm).density, 3);
  EXPECT_EQ(flaking_grade(3_percent, 5_mm).density, 4);
  EXPECT_EQ(flaking_grade(15_percent, 5_mm).density, 5);
  EXPECT_EQ(flaking_grade(100_percent, 5_mm).density, 5);
}

// ISO 4628-5 Table 2, from memory: up to 1, 3, 10, 30 mm, and over.
TEST(FlakingGrade, SizesEndOnTheLimitsOfTheStandard) {
  const auto size = [](double mm) { return flaking_grade(3_percent, {mm}).size; };
  EXPECT_EQ(size(0), 0);
  EXPECT_EQ(size(1), 1);
  EXPECT_EQ(size(1.01), 2);
  EXPECT_EQ(size(3), 2);
  EXPECT_EQ(size(3.01), 3);
  EXPECT_EQ(size(10), 3);
  EXPECT_EQ(size(10.01), 4);
  EXPECT_EQ(size(30), 4);
  EXPECT_EQ(size(30.01), 5);
}

TEST(FlakingGrade, MoreFlakingNeverEarnsALowerClass) {
  for (int tenths = 0; tenths < 1000; ++tenths) {
    EXPECT_LE(flaking_grade({tenths / 1000.0}, 5_mm).density, flaking_grade({(tenths + 1) / 1000.0}, 5_mm).density)
        << tenths;
  }
}

TEST(FlakingGrade, BetweenTwoPicturesTheNearerInRatioDecides) {
  EXPECT_EQ(flaking_grade(6.7_percent, 5_mm).density, 4);  // 15 / 6.7 = 2.24, 6.7 / 3 = 2.23
  EXPECT_EQ(flaking_grade(6.8_percent, 5_mm).density, 5);
}

TEST(FlakingGrade, NothingFlakedHasNoSize) { EXPECT_EQ(flaking_grade(0_percent, 40_mm).size, 0); }

}  // namespace
}  // namespace lotwear
