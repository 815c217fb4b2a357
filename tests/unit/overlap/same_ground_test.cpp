// Two photos of one spot, of two spots, of one stencil on two spots; the map between them against the true planes.
#include "overlap/same_ground.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>

#include <map>
#include <opencv2/imgproc.hpp>

#include "overlap/ground_look.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/render.hpp"
#include "support/seen_lot.hpp"

namespace lotwear {
namespace {

using namespace rendering;

constexpr double kMegapixels = 3;

GroundLook seen(const ScenePlan& plan) { return test::seen_lot(plan).look; }

ScenePlan scene(Tier tier, std::uint64_t seed, std::optional<bool> sheet = false) {
  static const std::vector<Shape> shapes = load_shapes(LOTWEAR_MODELS);
  Request request;
  request.sheet = sheet;
  request.whole = true;
  return draw_requested(tier, seed, kMegapixels, shapes, request);
}

/// The very outlines on another lot: other pavement, other cracks, other wear.
ScenePlan same_stencil_elsewhere(const ScenePlan& plan) {
  ScenePlan other = plan;
  const ScenePlan elsewhere = scene(plan.tier, plan.seed + 5000);
  other.name += "-elsewhere";
  other.pavement = elsewhere.pavement;
  other.light = elsewhere.light;
  for (std::size_t i = 0; i < other.markings.size(); ++i) {
    other.markings[i].texture_shift += 3777;
    other.markings[i].older.reset();
  }
  return other;
}

class SameGroundTest : public testing::TestWithParam<Tier> {};

TEST_P(SameGroundTest, OneSpotFromTwoPlacesIsKnownAndMappedToMillimetres) {
  int known = 0, all = 0;
  for (std::uint64_t seed = 96'000; seed < 96'004; ++seed) {
    const ScenePlan plan = scene(GetParam(), seed);
    const GroundLook first = seen(plan), second = seen(draw_again(plan));
    ++all;
    const std::optional<SameGround> same = same_ground(first, second);
    if (!same) continue;
    ++known;
    // both lie on the renderer's own ground, so that the true map leaves every point where it is
    double off = 0, n = 0;
    for (const GroundPoint& at : first.at) {
      if (length(at - centroid(plan.markings[0].rings[0])) > 800) continue;
      off += length(same->second_from_first(at) - at), n += 1;
    }
    if (n == 0) continue;
    EXPECT_LT(off / n, 25) << plan.name;
  }
  EXPECT_GE(known, all - 1);
}

TEST_P(SameGroundTest, TwoSpotsAreNot) {
  std::vector<GroundLook> photos;
  for (std::uint64_t seed = 96'100; seed < 96'105; ++seed)
    photos.push_back(seen(scene(GetParam(), seed)));
  for (std::size_t i = 0; i < photos.size(); ++i) {
    for (std::size_t j = i + 1; j < photos.size(); ++j)
      EXPECT_FALSE(same_ground(photos[i], photos[j])) << i << " " << j;
  }
}

TEST_P(SameGroundTest, OneStencilOnTwoSpotsIsNot) {
  for (std::uint64_t seed = 96'200; seed < 96'204; ++seed) {
    const ScenePlan plan = scene(GetParam(), seed);
    const GroundLook here = seen(plan), there = seen(same_stencil_elsewhere(plan)),
                     from_aside = seen(draw_again(same_stencil_elsewhere(plan)));
    EXPECT_FALSE(same_ground(here, there)) << plan.name;
    EXPECT_FALSE(same_ground(here, from_aside)) << plan.name;
  }
}

INSTANTIATE_TEST_SUITE_P(Tiers, SameGroundTest, testing::Values(Tier::clear, Tier::plain, Tier::hard),
                         [](const auto& tier) {
                           return std::string(kTierWords[static_cast<std::size_t>(tier.param)]);
                         });

TEST(SameGroundTest, AScaleSheetInBothPhotosProvesNothing) {
  const ScenePlan plan = scene(Tier::clear, 96'300, true);
  ScenePlan other = same_stencil_elsewhere(plan);
  EXPECT_FALSE(same_ground(seen(plan), seen(other)));
}

TEST(SameGroundTest, SeenFromTheOtherSideItIsTheSame) {
  const ScenePlan plan = scene(Tier::plain, 96'000);
  const GroundLook first = seen(plan), second = seen(draw_again(plan));
  // the second's plan turned by half a turn, as its own photo from the far side would give it
  GroundLook turned = second;
  for (GroundPoint& at : turned.at)
    at = GroundPoint{} - at;
  cv::Mat plan_turned, own_turned;
  cv::rotate(second.plan(), plan_turned, cv::ROTATE_180);
  cv::rotate(second.own(), own_turned, cv::ROTATE_180);
  turned = look_of_plan(plan_turned, own_turned, own_turned,
                        GroundPoint{} - second.origin -
                            GroundPoint{1.0 * plan_turned.cols, 1.0 * plan_turned.rows} * GroundLook::kPlanMm);
  const std::optional<SameGround> same = same_ground(first, turned);
  ASSERT_TRUE(same);
  const GroundPoint at = centroid(plan.markings[0].rings[0]);
  EXPECT_LT(length(same->second_from_first(at) + at), 25);
}

}  // namespace
}  // namespace lotwear
