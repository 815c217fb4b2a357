// One walk, one hand: heights that sheets and known sizes show carry over to the walk's other photos, and no further.
#include "ground/walk.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace lotwear {
namespace {

const double kTall = std::log(1750.0);

WalkPhoto photo(const std::string& taken, std::optional<CameraHeight> seen = std::nullopt,
                const std::string& camera = "Maker Phone") {
  return {camera, taken, seen};
}

TEST(HeightsByWalk, OneSheetMovesTheOthersMostOfTheWay) {
  const auto heights =
      heights_by_walk({photo("2026-04-11T09:02:00", CameraHeight{kTall, 0.005}), photo("2026-04-11T09:03:10")});
  ASSERT_TRUE(heights[1]);
  EXPECT_GT(heights[1]->log_mm, std::log(1650.0));
  EXPECT_LT(heights[1]->log_mm, kTall);
  EXPECT_LT(heights[1]->error, 0.13) << "people at large: 0.17";
  EXPECT_FALSE(heights[0]) << "nobody else says anything about the photo with the sheet";
}

TEST(HeightsByWalk, MoreOfTheSamePersonSayMore) {
  std::vector<WalkPhoto> photos{photo("2026-04-11T09:02:00")};
  double before = 1;
  for (int i = 0; i < 5; ++i) {
    photos.push_back(photo("2026-04-11T09:1" + std::to_string(i) + ":00", CameraHeight{kTall + 0.02 * (i % 2), 0.03}));
    const double error = heights_by_walk(photos)[0]->error;
    EXPECT_LT(error, before);
    before = error;
  }
  EXPECT_NEAR(heights_by_walk(photos)[0]->log_mm, kTall, 0.04);
}

TEST(HeightsByWalk, AnUnsteadyHandSaysLess) {
  const auto error_with = [](double apart) {
    return heights_by_walk({photo("2026-04-11T09:02:00"),
                            photo("2026-04-11T09:03:00", CameraHeight{kTall - apart, 0.01}),
                            photo("2026-04-11T09:04:00", CameraHeight{kTall + apart, 0.01}),
                            photo("2026-04-11T09:05:00", CameraHeight{kTall - apart, 0.01})})[0]
        ->error;
  };
  EXPECT_GT(error_with(0.2), 1.5 * error_with(0.02));
}

TEST(HeightsByWalk, OtherPhonesOtherDaysAndPhotosWithoutTimeAreStrangers) {
  const WalkPhoto sheet = photo("2026-04-11T09:02:00", CameraHeight{kTall, 0.005});
  EXPECT_FALSE(heights_by_walk({sheet, photo("2026-04-11T09:03:00", std::nullopt, "Maker Other")})[1]);
  EXPECT_FALSE(heights_by_walk({sheet, photo("2026-04-12T09:03:00")})[1]);
  EXPECT_FALSE(heights_by_walk({sheet, {"Maker Phone", std::nullopt, std::nullopt}})[1]);
  EXPECT_FALSE(heights_by_walk({sheet, photo("2026-04-11T09:03:00", std::nullopt, "")})[1]);
  EXPECT_TRUE(heights_by_walk({sheet, photo("2026-04-12T00:10:00-04:00"), photo("2026-04-11T10:58:00")})[2]);
}

TEST(HeightsByWalk, OrderOfThePhotosDoesNotMatter) {
  const WalkPhoto a = photo("2026-04-11T09:02:00", CameraHeight{kTall, 0.005}), b = photo("2026-04-11T09:03:00"),
                  c = photo("2026-04-11T09:04:00", CameraHeight{kTall - 0.1, 0.04});
  EXPECT_EQ(heights_by_walk({a, b, c})[1]->log_mm, heights_by_walk({c, b, a})[1]->log_mm);
  EXPECT_EQ(heights_by_walk({a, b, c})[1]->error, heights_by_walk({c, b, a})[1]->error);
}

// People drawn from the stated spread, each with a steadiness of their own: the stated error covers what comes.
TEST(HeightsByWalk, StatesItsErrorHonestly) {
  std::mt19937 random(5);
  std::normal_distribution<double> normal(0, 1);
  double squares = 0;
  constexpr int kPeople = 400;
  for (int i = 0; i < kPeople; ++i) {
    const double person = std::log(1500.0) + 0.15 * normal(random), steady = i % 10 < 3   ? 0.04
                                                                             : i % 10 < 8 ? 0.08
                                                                                          : 0.16;
    std::vector<WalkPhoto> photos;
    double truth = 0;
    for (int k = 0; k < 4; ++k) {
      truth = person + steady * normal(random);
      photos.push_back(photo("2026-04-11T09:0" + std::to_string(k) + ":00"));
      if (k < 3) photos.back().seen = CameraHeight{truth + 0.03 * normal(random), 0.03};
    }
    const CameraHeight said = *heights_by_walk(photos)[3];
    squares += std::pow((said.log_mm - truth) / said.error, 2);
  }
  EXPECT_NEAR(std::sqrt(squares / kPeople), 1, 0.15);
}

TEST(Together, TwoEqualSourcesMeetHalfWay) {
  const CameraHeight both = together({7.2, 0.1}, {7.4, 0.1});
  EXPECT_NEAR(both.log_mm, 7.3, 1e-12);
  EXPECT_NEAR(both.error, 0.1 / std::sqrt(2), 1e-12);
}

}  // namespace
}  // namespace lotwear
