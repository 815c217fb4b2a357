#include "marking/letter_rows.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace lotwear {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

/// Boxes 250 wide and 500 high, 350 apart, `rows` of them 750 apart, turned by `angle`.
std::vector<GroundRing> letters(const std::vector<int>& rows, double angle) {
  std::vector<GroundRing> hulls;
  const double c = std::cos(angle), s = std::sin(angle);
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (int i = 0; i < rows[r]; ++i) {
      GroundRing box;
      for (const auto& [x, y] : {std::pair{0, 0}, {250, 0}, {250, 500}, {0, 500}}) {
        const double px = 350.0 * i - 175.0 * rows[r] + x, py = 750.0 * static_cast<double>(r) + y;
        box.push_back({c * px - s * py, s * px + c * py});
      }
      hulls.push_back(box);
    }
  }
  return hulls;
}

std::vector<std::size_t> all_of(const std::vector<GroundRing>& hulls) {
  std::vector<std::size_t> all(hulls.size());
  for (std::size_t i = 0; i < all.size(); ++i)
    all[i] = i;
  return all;
}

TEST(LetterRows, OneRowHowEverItLies) {
  for (int degrees = 0; degrees < 180; degrees += 7) {
    const double angle = degrees * std::numbers::pi / 180;
    const auto hulls = letters({5}, angle);
    const auto rows = rows_among(all_of(hulls), hulls);
    ASSERT_EQ(rows.size(), 1U) << degrees;
    EXPECT_EQ(rows[0].letters.size(), 5U);
    EXPECT_NEAR(rows[0].band.size(), 500, 25) << degrees;
    EXPECT_NEAR(std::abs(cross(rows[0].along, GroundPoint{std::cos(angle), std::sin(angle)})), 0, 0.04) << degrees;
  }
}

TEST(LetterRows, TwoRowsAreTwoWhereNeitherWayPutsALetterAlone) {
  const auto hulls = letters({2, 7}, 0.3);
  const auto rows = rows_among(all_of(hulls), hulls);
  ASSERT_EQ(rows.size(), 2U);
  const std::vector<std::size_t> sizes = {rows[0].letters.size(), rows[1].letters.size()};
  EXPECT_THAT(sizes, ::testing::UnorderedElementsAre(2, 7));
}

TEST(LetterRows, ALetterAloneIsNoRow) {
  const auto hulls = letters({1}, 0);
  EXPECT_THAT(rows_among(all_of(hulls), hulls), IsEmpty());
}

}  // namespace
}  // namespace lotwear
