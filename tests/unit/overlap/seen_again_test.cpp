// Which photos are looked at together; which outlines are one marking; what their parts add up to.
#include "overlap/seen_again.hpp"

#include <gmock/gmock.h>

#include <opencv2/imgproc.hpp>

#include "overlap/same_ground.hpp"
#include "rendering/render.hpp"
#include "support/seen_lot.hpp"

namespace lotwear {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::Pair;

SeenPhoto taken(const std::string& time, std::optional<Position> at = {}) {
  SeenPhoto photo;
  if (!time.empty()) photo.taken = time;
  photo.position = at;
  photo.markings.emplace_back();
  return photo;
}

TEST(NearPairs, ThoseTakenWithinMinutes) {
  EXPECT_THAT(near_pairs({taken("2026-04-11T09:00:00"), taken("2026-04-11T09:01:00"), taken("2026-04-11T11:00:00")}),
              ElementsAre(Pair(0, 1)));
}

TEST(NearPairs, ThoseTakenWithinMetresWhereThePlaceIsKnown) {
  const Position here{12.4, -38.9, 5.0}, beside{12.40005, -38.9, 5.0}, far{12.401, -38.9, 5.0};  // 6 m and 111 m away
  EXPECT_THAT(near_pairs({taken("2026-04-11T09:00:00", here), taken("2026-04-11T09:10:00", beside),
                          taken("2026-04-11T09:00:20", far)}),
              ElementsAre(Pair(0, 1)));
}

TEST(NearPairs, NeighboursInTheListWhereNothingIsKnown) {
  EXPECT_THAT(near_pairs({taken(""), taken("")}), ElementsAre(Pair(0, 1)));
  std::vector<SeenPhoto> many(20, taken(""));
  for (const auto& [i, j] : near_pairs(many))
    EXPECT_LE(j - i, 3U);
}

TEST(NearPairs, NoneOfPhotosWithoutMarkings) {
  std::vector<SeenPhoto> two{taken(""), taken("")};
  two[1].markings.clear();
  EXPECT_THAT(near_pairs(two), IsEmpty());
}

// --- rendered lots -------------------------------------------------------------------------------------------------

using namespace rendering;

ScenePlan scene(std::uint64_t seed) { return draw_scene(Tier::plain, seed, 3, load_shapes(LOTWEAR_MODELS)); }

TEST(FindOverlaps, OneMarkingInTwoPhotosIsCountedByTheBetterView) {
  const ScenePlan plan = scene(97'000);
  SeenPhoto first = test::seen_lot(plan), second = test::seen_lot(draw_again(plan));
  first.markings[0].doubt = 0.3;
  const Overlaps overlaps = find_overlaps({first, second}, 2);
  ASSERT_FALSE(overlaps.again.empty());
  EXPECT_EQ(overlaps.again[0].which, (MarkingAt{0, 0})) << "wider interval";
  EXPECT_EQ(overlaps.again[0].better, (MarkingAt{1, 0}));
  EXPECT_GT(overlaps.again[0].confidence, 0.7);
  EXPECT_LE(overlaps.again[0].confidence, 1);
  ASSERT_EQ(overlaps.spots.size(), 1U);
  EXPECT_NEAR(overlaps.spots[0].second_over_first, 1, 0.01) << "both lie on the renderer's own ground";
}

TEST(FindOverlaps, TheWholeOneCountsBeforeTheOneCutOff) {
  const ScenePlan plan = scene(97'000);
  SeenPhoto first = test::seen_lot(plan), second = test::seen_lot(draw_again(plan));
  second.markings[0].cut_off = true;
  first.markings[0].doubt = 0.3;
  const Overlaps overlaps = find_overlaps({first, second}, 1);
  ASSERT_FALSE(overlaps.again.empty());
  EXPECT_EQ(overlaps.again[0].better, (MarkingAt{0, 0}));
}

TEST(FindOverlaps, NeighboursAreTwo) {
  const ScenePlan plan = scene(97'000);
  SeenPhoto first = test::seen_lot(plan), second = test::seen_lot(draw_again(plan));
  first.markings.resize(1), second.markings.resize(1);
  // as if another marking lay beside the first one, a hand's width away
  double left = 1e30, right = -1e30;
  for (const GroundRing& ring : second.markings[0].rings) {
    for (const GroundPoint& p : ring)
      left = std::min(left, p.x), right = std::max(right, p.x);
  }
  for (GroundRing& ring : second.markings[0].rings) {
    for (GroundPoint& p : ring)
      p.x += right - left + 100;
  }
  EXPECT_THAT(find_overlaps({first, second}, 1).again, IsEmpty());
}

/// A bonnet that fills most of the photo, the same in every one.
void with_bonnet(cv::Mat& rgb) {
  cv::Mat bonnet = rgb.rowRange(rgb.rows / 8, rgb.rows);
  cv::RNG random(7);
  for (int i = 0; i < 500; ++i) {
    const cv::Point at(random.uniform(0, bonnet.cols), random.uniform(0, bonnet.rows));
    cv::circle(bonnet, at, random.uniform(8, 30), cv::Scalar::all(random.uniform(20, 230)), cv::FILLED);
  }
}

TEST(FindOverlaps, WhatGoesAlongWithTheCameraIsNoGround) {
  ScenePlan plan = scene(97'000), elsewhere = scene(97'001);
  elsewhere.camera = plan.camera;
  elsewhere.markings = plan.markings;
  for (MarkingPlan& marking : elsewhere.markings)
    marking.texture_shift += 3777;
  const SeenPhoto first = test::seen_lot(plan, with_bonnet), second = test::seen_lot(elsewhere, with_bonnet);
  EXPECT_TRUE(same_ground(first.look, second.look)) << "else the bonnet is no trap";
  EXPECT_THAT(find_overlaps({first, second}, 1).again, IsEmpty());
}

TEST(FindOverlaps, OnePictureInTwoFilesIsCountedOnce) {
  const SeenPhoto photo = test::seen_lot(scene(97'000));
  EXPECT_EQ(find_overlaps({photo, photo}, 1).again.size(), photo.markings.size());
}

/// The part of a bar, 4 m long and 100 mm wide, between two places along it.
SeenMarking bar(double from, double to) {
  return {{{{from, -1500}, {to, -1500}, {to, -1400}, {from, -1400}}}, true, false, 0.1};
}

TEST(FindOverlaps, ABarTooLongForOnePhotoIsAsLongAsItsParts) {
  const ScenePlan plan = scene(97'000);
  SeenPhoto first = test::seen_lot(plan), second = test::seen_lot(draw_again(plan));
  // Photos 2 m wide side by side on the same ground: the first shows x from -1000 to 1000, the second from 0 to 2000.
  const auto looks_at = [](double left) { return ImageFromGround({1, 0, -left, 0, 1, 2500, 0, 0, 1}); };
  first.image_from_ground = looks_at(-1000), second.image_from_ground = looks_at(0);
  first.size = second.size = cv::Size(2000, 2000);
  first.markings = {bar(-1000, 1000)}, second.markings = {bar(0, 2000)};
  const Overlaps overlaps = find_overlaps({first, second}, 1);
  ASSERT_EQ(overlaps.again.size(), 1U);
  ASSERT_EQ(overlaps.parts.size(), 1U);
  EXPECT_EQ(overlaps.parts[0].which, overlaps.again[0].better);
  EXPECT_THAT(overlaps.parts[0].with, ElementsAre(overlaps.again[0].which));
  EXPECT_NEAR(overlaps.parts[0].length, 1.5, 0.03);
  EXPECT_NEAR(overlaps.parts[0].area, 1.5, 0.05);
}

TEST(FindOverlaps, TheSameForAnyNumberOfThreads) {
  std::vector<SeenPhoto> photos;
  for (std::uint64_t seed = 97'000; seed < 97'003; ++seed) {
    photos.push_back(test::seen_lot(scene(seed)));
    photos.push_back(test::seen_lot(draw_again(scene(seed))));
  }
  const Overlaps one = find_overlaps(photos, 1), four = find_overlaps(photos, 4);
  ASSERT_EQ(one.again.size(), four.again.size());
  for (std::size_t i = 0; i < one.again.size(); ++i) {
    EXPECT_EQ(one.again[i].which, four.again[i].which);
    EXPECT_EQ(one.again[i].confidence, four.again[i].confidence);
  }
  ASSERT_EQ(one.spots.size(), four.spots.size());
  for (std::size_t i = 0; i < one.spots.size(); ++i)
    EXPECT_EQ(one.spots[i].second_over_first, four.spots[i].second_over_first);
}

}  // namespace
}  // namespace lotwear
