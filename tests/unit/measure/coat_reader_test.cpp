// An older coat of the top coat's own colour in its chips, and what looks like one. The scenes are of another make than
// those the network has learned from.
#include "measure/coat_reader.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <opencv2/imgproc.hpp>

#include "base/trouble.hpp"
#include "measure/coat_view.hpp"
#include "measure/coats_seen.hpp"
#include "measure/measure.hpp"
#include "support/paint_scene.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

using paint_scene::Light;
using paint_scene::Scene;
using paint_scene::Spec;

const CoatReader& reader() {
  static const CoatReader the_reader(LOTWEAR_MODELS);
  return the_reader;
}

Condition condition_of(const Scene& scene, const CoatReader* coats = &reader()) {
  const auto found = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0, coats);
  EXPECT_TRUE(found) << (found ? "" : found.problem().what);
  return found ? found->condition : Condition{};
}

/// White paint in flakes on concrete, some of them down to greyed white, the others to the pavement.
Spec white_on_white(std::uint64_t seed) {
  Spec spec;
  spec.seed = seed;
  spec.length_mm = 700, spec.width_mm = 200, spec.pixel_mm = 1.2;
  spec.pavement = paint_scene::kConcrete;
  spec.flaked = 0.3, spec.older_share = 0.5;
  spec.older = {0.48, 0.48, 0.456};
  return spec;
}

TEST(CoatReader, GreyedWhiteUnderWhiteIsNotCountedAsTopCoat) {
  for (const std::uint64_t seed : {1U, 2U, 3U}) {
    const Scene scene = paint_scene::make(white_on_white(seed));
    const Condition found = condition_of(scene);
    EXPECT_EQ(found.older_colour, Colour::white);
    EXPECT_NEAR(100 * found.remaining.value.value, 100 * scene.remaining, 4) << seed;
    EXPECT_NEAR(100 * found.older_coat.value.value, 100 * scene.older, 5) << seed;
    EXPECT_NEAR(100 * found.any_coat.value, 100 * scene.any_coat, 6) << seed;
  }
}

TEST(CoatReader, WhatDiffersInLevelAloneIsToldByHowItLies) {
  double told = 0, lies = 0;
  for (std::uint64_t seed = 11; seed < 17; ++seed) {
    Spec spec = white_on_white(seed);
    spec.flaked = 0.35, spec.older_share = 0.9;
    for (std::size_t k = 0; k < 3; ++k)
      spec.older[k] = 0.75 * spec.paint[k];
    const Scene scene = paint_scene::make(spec);
    const Condition with = condition_of(scene), without = condition_of(scene, nullptr);
    EXPECT_EQ(with.older_colour, Colour::white) << seed;
    EXPECT_GT(with.older_coat.value.value, 0.5 * scene.older) << seed;
    EXPECT_LT(with.older_coat.value.value, 1.5 * scene.older) << seed;
    told += with.older_coat.value.value, lies += scene.older;
    EXPECT_LT(std::abs(with.remaining.value.value - scene.remaining),
              std::abs(without.remaining.value.value - scene.remaining) - 0.05)
        << seed;
  }
  EXPECT_NEAR(told / lies, 1, 0.2);
  RecordProperty("told_over_true", std::to_string(told / lies));
}

TEST(CoatReader, NoneGrowsFromShadowSoilTyresOrWear) {
  for (const Light light : {Light::even, Light::edge, Light::dapple}) {
    Spec spec = white_on_white(4);
    spec.older_share = 0, spec.light = light;
    spec.penumbra_mm = 3;  // as sharp as the edge of a chip
    EXPECT_LT(condition_of(paint_scene::make(spec)).older_coat.value.value, 0.005);
    spec.abraded = 0.4, spec.cracked = 0.05;
    EXPECT_LT(condition_of(paint_scene::make(spec)).older_coat.value.value, 0.005);
    spec.seed = 5, spec.abraded = 0.1, spec.soil = 0.4, spec.tyre = 0.4;
    EXPECT_LT(condition_of(paint_scene::make(spec)).older_coat.value.value, 0.005);
  }
}

PlanView plan_of(const Scene& scene) {
  const Result<PlanView> plan = look_down(scene.photo, {}, scene.ground, {scene.footprint}, 0);
  EXPECT_TRUE(plan);
  return *plan;
}

TEST(CoatView, ExposureAndTheLightsColourAreDividedOut) {
  const PlanView plan = plan_of(paint_scene::make(white_on_white(6)));
  const CoatView one = coat_view(plan, 4);
  ASSERT_FALSE(one.input.empty());
  PlanView warmer = plan;
  warmer.light = plan.light.clone();
  for (cv::Vec3f& l : cv::Mat_<cv::Vec3f>(warmer.light))
    l = {l[0] * 0.55F, l[1] * 0.5F, l[2] * 0.42F};
  EXPECT_LT(cv::norm(one.input, coat_view(warmer, 4).input, cv::NORM_INF), 0.02);
}

TEST(CoatView, IsNeverFinerThanTheLessonsNorLargerThanTheNetworkHasTimeFor) {
  Spec spec = white_on_white(7);
  spec.length_mm = 4000, spec.width_mm = 2200, spec.pixel_mm = 3;
  const CoatView large = coat_view(plan_of(paint_scene::make(spec)), 4);
  EXPECT_LT(large.input.total(), 260'000U);
  EXPECT_GE(large.mm_per_pixel, 3);
  EXPECT_TRUE(coat_view(PlanView{}, 4).input.empty());
}

// A strip of sun that tints yellow paint is no older coat of yellow; what colour says of one is dropped for this.
TEST(CoatReader, SpeaksAgainstACoatOnlyWhereItIsSure) {
  CoatsSeen seen;
  seen.answer.layered = 0.01;
  EXPECT_TRUE(speaks_against_coats(seen));
  seen.answer.layered = 0.3;
  EXPECT_FALSE(speaks_against_coats(seen));
}

TEST(CoatReader, IsNotAskedInACoarsePhoto) {
  PlanView plan = plan_of(paint_scene::make(white_on_white(8)));
  EXPECT_TRUE(see_coats(reader(), plan, 4));
  plan.photo_px_mm = 4.4;
  EXPECT_FALSE(see_coats(reader(), plan, 4));
}

TEST(CoatReader, ADamagedModelIsOneSentence) {
  const test::ScratchFolder folder;
  EXPECT_THROW(CoatReader(folder / "nowhere"), Failure);
  std::ofstream(folder / "coats.onnx") << "no network";
  try {
    const CoatReader broken(folder.path());
    FAIL() << "no network was read";
  } catch (const Failure& failure) {
    EXPECT_NE(std::string(failure.what()).find("install lotwear again"), std::string::npos);
  }
}

}  // namespace
}  // namespace lotwear
