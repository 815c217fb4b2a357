#include "rendering/render.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <set>

#include "base/parallel.hpp"
#include "marking/shapes.hpp"
#include "rendering/camera.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/light.hpp"
#include "rendering/rubble.hpp"
#include "rendering/solids.hpp"
#include "rendering/wear.hpp"

namespace lotwear::rendering {
namespace {

constexpr double kMegapixels = 0.4;

const std::vector<Shape>& shapes() {
  static const std::vector<Shape> all = load_shapes(LOTWEAR_MODELS);
  return all;
}

/// One through arrow on plain asphalt straight below, nothing else.
ScenePlan simple_scene() {
  ScenePlan scene;
  scene.name = "simple";
  scene.camera.width = 768, scene.camera.height = 576;
  scene.camera.focal_px = 577;
  scene.camera.tilt_deg = 15;
  scene.camera.stand_mm = 1800;
  MarkingPlan arrow;
  arrow.id = "T1";
  arrow.kind = Kind::arrow_straight;
  const Shape& shape = shape_named(shapes(), "arrow-straight");
  arrow.shape = shape.name;
  arrow.length_mm = 1500;
  arrow.rings = placed(outline(shape, 1500, usual_values(shape)), 0.3, {40, -500});
  scene.markings = {arrow};
  return scene;
}

TEST(Render, AMarkingWithoutWearIsWhole) {
  const MarkingTruth truth = render(simple_scene()).truth.markings[0];
  EXPECT_NEAR(truth.remaining, 1, 1e-12);
  EXPECT_EQ(truth.action, Action::no_action);
  EXPECT_NEAR(truth.faded, 0, 1e-9);
  EXPECT_GT(truth.share_in_frame, 0.99);
}

TEST(Render, ThePaintedRasterHasTheOutlinesArea) {
  const ScenePlan scene = simple_scene();
  const MarkingTruth truth = render(scene).truth.markings[0];
  double mm2 = 0;
  for (const GroundRing& ring : scene.markings[0].rings)
    mm2 += area(ring);
  EXPECT_NEAR(truth.area_m2, mm2 / 1e6, 1e-9);
  EXPECT_NEAR(truth.painted_m2 / truth.area_m2, 1, 0.01) << "a wandering edge gains and loses alike";
}

TEST(Render, TheFootprintInThePhotoLeadsBackToTheSameArea) {
  const SceneTruth truth = render(simple_scene()).truth;
  double mm2 = 0;
  for (const ImageRing& ring : truth.markings[0].footprint)
    mm2 += area(truth.ground_from_image(ring));
  EXPECT_NEAR(mm2 / 1e6, truth.markings[0].area_m2, 1e-6);
}

TEST(Render, LossesAndWhatRemainsMakeOne) {
  ScenePlan scene = simple_scene();
  WearPlan& wear = scene.markings[0].wear;
  wear.abraded = 0.3, wear.flaked = 0.2, wear.cracked = 0.05, wear.chip_mm = 10;
  const MarkingTruth t = render(scene).truth.markings[0];
  EXPECT_NEAR(t.remaining + t.abraded + t.flaked + t.cracked, 1, 1e-6);
  EXPECT_NEAR(t.flaked, 0.2, 0.04) << "about what was asked for";
  EXPECT_NEAR(t.abraded, 0.3 * 0.8, 0.08);
  EXPECT_EQ(t.action, Action::grind_and_repaint);
}

TEST(Render, MoreWearNeverLeavesMorePaint) {
  double last = 1.1;
  for (const double level : {0.0, 0.1, 0.25, 0.5, 0.8}) {
    ScenePlan scene = simple_scene();
    scene.markings[0].wear.abraded = level;
    scene.markings[0].wear.flaked = 0.4 * level;
    const double remaining = render(scene).truth.markings[0].remaining;
    EXPECT_LT(remaining, last) << level;
    last = remaining;
  }
}

TEST(Render, AnOlderCoatShowsOnlyWhereTheTopCoatIsGone) {
  ScenePlan scene = simple_scene();
  scene.markings[0].older = CoatPlan{Colour::yellow, {0.7F, 0.4F, 0.05F}};
  EXPECT_EQ(render(scene).truth.markings[0].older_colour, std::nullopt);
  scene.markings[0].wear.flaked = 0.3;
  scene.markings[0].wear.between_coats = 1;
  const MarkingTruth t = render(scene).truth.markings[0];
  EXPECT_EQ(t.older_colour, Colour::yellow);
  EXPECT_NEAR(t.older, t.flaked, 0.02);
  EXPECT_NEAR(t.any_coat, 1, 0.02);
}

TEST(Render, TheTruthDoesNotHangOnTheSizeOfThePhoto) {
  ScenePlan scene = simple_scene();
  scene.markings[0].wear.abraded = 0.35;
  const double small = render(scene).truth.markings[0].remaining;
  scene.camera.width *= 2, scene.camera.height *= 2, scene.camera.focal_px *= 2;
  EXPECT_NEAR(render(scene).truth.markings[0].remaining, small, 0.015);
}

TEST(Render, OutsideTheFrameNothingCounts) {
  ScenePlan scene = simple_scene();
  for (GroundRing& ring : scene.markings[0].rings) {
    for (GroundPoint& p : ring)
      p.x += 1250;
  }
  const MarkingTruth t = render(scene).truth.markings[0];
  EXPECT_LT(t.share_in_frame, 0.6);
  EXPECT_FALSE(t.count);
  EXPECT_NEAR(t.painted_m2, t.area_in_frame_m2, 0.02 * t.area_m2);
}

TEST(Render, SameSeedSameBytesOnAnyNumberOfThreads) {
  std::vector<ScenePlan> plans;
  for (std::uint64_t seed = 3; seed < 6; ++seed)
    plans.push_back(draw_scene(Tier::hard, seed, kMegapixels, shapes()));
  std::vector<std::string> one(plans.size()), three(plans.size());
  const auto text = [&](std::size_t i) {
    const Rendered made = render(plans[i]);
    return made.photo + truth_text(made.truth);
  };
  parallel_for(plans.size(), 1, [&](std::size_t i) { one[i] = text(i); });
  parallel_for(plans.size(), 3, [&](std::size_t i) { three[i] = text(i); });
  EXPECT_TRUE(one == three);
}

TEST(Render, ThePhotoIsTurnedAsItsOrientationSays) {
  ScenePlan scene = simple_scene();
  std::swap(scene.camera.width, scene.camera.height);
  const auto decode = [](const std::string& bytes, int how) {
    return cv::imdecode(std::vector<std::uint8_t>(bytes.begin(), bytes.end()), how);
  };
  const cv::Mat upright = decode(render(scene).photo, cv::IMREAD_COLOR);
  for (const int orientation : {6, 8}) {
    scene.camera.orientation = orientation;
    const std::string bytes = render(scene).photo;
    const cv::Mat stored = decode(bytes, cv::IMREAD_COLOR | cv::IMREAD_IGNORE_ORIENTATION),
                  shown = decode(bytes, cv::IMREAD_COLOR);
    EXPECT_EQ(stored.cols, upright.rows);
    ASSERT_EQ(shown.size(), upright.size());
    cv::Mat apart;
    cv::absdiff(shown, upright, apart);
    EXPECT_LT(cv::mean(apart)[1], 3);
  }
}

TEST(Truth, ComesBackFromItsFile) {
  const SceneTruth truth = render(draw_scene(Tier::plain, 7, kMegapixels, shapes())).truth;
  const std::string text = truth_text(truth);
  EXPECT_EQ(truth_text(truth_from_text(text, "a.truth.json")), text);
  EXPECT_THROW(truth_from_text("{}", "a.truth.json"), Failure);
}

TEST(Render, WhatTheRasterCountsIsWhatThePhotoShows) {
  for (std::uint64_t seed = 40; seed < 46; ++seed) {
    for (const MarkingTruth& t : render(draw_scene(Tier::plain, seed, 0.1, shapes())).truth.markings) {
      if (!t.count) continue;
      EXPECT_NEAR(t.painted_m2 / t.area_in_frame_m2, 1, 0.05) << seed << " " << t.id << " " << t.shape;
      EXPECT_NEAR(t.remaining + t.abraded + t.flaked + t.cracked, 1, 1e-6);
      EXPECT_GE(t.any_coat, t.remaining);
    }
  }
}

TEST(DrawRubble, LiesBesideMarkingsAndIsNoPaint) {
  int drawn = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    ScenePlan scene = simple_scene();
    Random random(seed);
    draw_rubble(random, scene);
    for (const Rubble& rubble : scene.pavement.rubble) {
      if (rubble.radius_mm > 10000) continue;  // the pavement itself shows its stones
      ++drawn;
      for (const GroundPoint& p : scene.markings[0].rings[0]) EXPECT_GT(length(p - rubble.at), rubble.radius_mm) << seed;
    }
  }
  EXPECT_GT(drawn, 20);
  ScenePlan bare = simple_scene();
  bare.markings.clear();
  Rubble rubble;
  rubble.at = {0, -600}, rubble.radius_mm = 400;
  rubble.stones = {0.4F, 0.4F, 0.4F}, rubble.between = {0.3F, 0.3F, 0.3F};
  bare.pavement.rubble = {rubble};
  const Rendered made = render(bare, Layers::drawn);
  cv::Mat photo = cv::imdecode(std::vector<std::uint8_t>(made.photo.begin(), made.photo.end()), cv::IMREAD_GRAYSCALE);
  cv::blur(photo, photo, {15, 15});
  const auto seen = Camera(bare.camera).see(rubble.at);
  ASSERT_TRUE(seen.has_value());
  const int pale = photo.at<unsigned char>(static_cast<int>(seen->y), static_cast<int>(seen->x));
  EXPECT_GT(pale, photo.at<unsigned char>(static_cast<int>(seen->y), 20) + 20) << "pale stones on dark asphalt";
  EXPECT_EQ(cv::sum(made.layers->coats), cv::Scalar::all(0));
}

TEST(HoldUpBoard, HidesTheMarkingBehindItAndIsNoGround) {
  ScenePlan scene = simple_scene();
  const Rendered open = render(scene, Layers::drawn);
  Random random(3);
  hold_up_board(random, scene);
  ASSERT_EQ(scene.solids.size(), 1U);
  EXPECT_GT(scene.solids[0].parts[0].squares.side_mm, 0);
  const Rendered held = render(scene, Layers::drawn);
  EXPECT_GT(cv::mean(held.layers->losses)[2], cv::mean(open.layers->losses)[2] + 0.05);
  EXPECT_LT(cv::countNonZero(held.layers->kinds), cv::countNonZero(open.layers->kinds));
}

TEST(DrawWalk, ShowsEveryKindColourAndWearOfTheDemo) {
  const std::vector<ScenePlan> walk = draw_walk(1, kMegapixels, shapes());
  EXPECT_GE(walk.size(), 16u);
  std::set<Kind> kinds;
  std::set<Colour> colours;
  std::set<Pavement> pavements;
  int layered = 0, cracked = 0, flaked = 0, faded = 0, sheets = 0;
  std::string last;
  for (const ScenePlan& scene : walk) {
    EXPECT_GT(scene.taken, last) << "photos are in the order taken";
    last = scene.taken;
    sheets += scene.sheet.has_value();
    pavements.insert(scene.pavement.what);
    for (const MarkingPlan& m : scene.markings) {
      kinds.insert(m.kind);
      colours.insert(m.coat.colour);
      layered += m.older.has_value(), cracked += m.wear.cracked > 0, flaked += m.wear.flaked > 0.1,
          faded += m.wear.faded > 0.25;
    }
  }
  for (const Kind kind :
       {Kind::line, Kind::stop_line, Kind::crosswalk, Kind::accessible_symbol, Kind::hatching, Kind::legend,
        Kind::arrow_straight, Kind::arrow_left, Kind::arrow_left_right, Kind::arrow_straight_left}) {
    EXPECT_TRUE(kinds.contains(kind)) << word(kind);
  }
  for (const Colour colour : {Colour::white, Colour::yellow, Colour::blue})
    EXPECT_TRUE(colours.contains(colour));
  EXPECT_TRUE(pavements.contains(Pavement::asphalt) && pavements.contains(Pavement::concrete));
  EXPECT_GT(std::min({layered, cracked, flaked, faded, sheets}), 0);
}

TEST(DrawScene, EveryTierDrawsScenesWithSomethingToFind) {
  for (const Tier tier : {Tier::clear, Tier::plain, Tier::hard}) {
    for (std::uint64_t seed = 0; seed < 12; ++seed) {
      const ScenePlan scene = draw_scene(tier, seed, kMegapixels, shapes());
      ASSERT_FALSE(scene.markings.empty());
      EXPECT_GE(share_in_view(scene.markings.back().rings, Camera(scene.camera)), 0.05);
      if (tier == Tier::clear) {
        EXPECT_TRUE(scene.light.casters.empty() && scene.light.foliage == 0);
      }
    }
  }
}

}  // namespace
}  // namespace lotwear::rendering
