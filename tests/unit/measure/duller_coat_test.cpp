// An older coat of the top coat's own colour in its chips, and what looks like one.
#include "measure/duller_coat.hpp"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "measure/measure.hpp"
#include "support/paint_scene.hpp"

namespace lotwear {
namespace {

using paint_scene::Light;
using paint_scene::Scene;
using paint_scene::Spec;

/// A marking as the search sees it: paint at 1, with duller patches and chips of bare pavement.
struct Patchwork {
  double dull = 0.6;     // level of the patches
  double soft_px = 0.7;  // how gradually they end
  bool chips = true;     // each has one beside it
  double mottled = 0;    // spread of single pixels within the patches
  double chip_px = 12;   // from a patch's middle to its chip's
  double bluer = 0;      // log of blue over red, the patches' over the top coat's
  bool shade = false;    // light and shade both fall
};

struct Seen {
  PlanView plan;
  cv::Mat bare, level;
  PavementLook look;
  double share = 0;  // of the core, patches
};

constexpr double kCore = 4, kBlurPx = 0.7, kPaintOverBare = 5;

Seen seen(const Patchwork& work) {
  const cv::Size size(900, 300);
  cv::RNG dice(11);
  cv::Mat patches(size, CV_32F, cv::Scalar(0)), chips(size, CV_32F, cv::Scalar(0)), noise(size, CV_32F);
  for (int y = 60; y < 260; y += 60) {
    for (int x = 60; x < 860; x += 70) {
      cv::circle(patches, {x, y}, 10, cv::Scalar(1), cv::FILLED);
      if (work.chips) cv::circle(chips, {x + static_cast<int>(work.chip_px), y}, 6, cv::Scalar(1), cv::FILLED);
    }
  }
  patches.setTo(0, chips > 0.5F);
  Seen out;
  PlanView& plan = out.plan;
  plan.mm_per_pixel = plan.photo_px_mm = 1, plan.pixels_across = 240;
  plan.ours = cv::Mat::zeros(size, CV_8U);
  plan.ours(cv::Rect(30, 30, 840, 240)).setTo(1);
  cv::distanceTransform(plan.ours, plan.inside_mm, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  const cv::Mat core = plan.inside_mm > kCore;
  out.share = cv::countNonZero((patches > 0.5F) & core) / static_cast<double>(cv::countNonZero(core));
  dice.fill(noise, cv::RNG::NORMAL, 0, 1);
  cv::Mat soft_patches, soft_chips, texture;
  cv::GaussianBlur(patches, soft_patches, {}, work.soft_px);
  cv::GaussianBlur(chips, soft_chips, {}, kBlurPx);
  cv::GaussianBlur(noise, texture, {}, 1.0);
  out.level = 1 - (1 - work.dull) * soft_patches + 0.1 * texture + work.mottled * noise.mul(patches);
  out.level = out.level.mul(1 - soft_chips);
  out.level.setTo(0, plan.ours == 0);
  out.bare = cv::Mat(size, CV_32FC3, cv::Scalar::all(0.1));
  const cv::Mat light = 0.1 * (1 + (kPaintOverBare - 1) * out.level);
  cv::Mat tint;
  cv::exp(0.5 * work.bluer * soft_patches, tint);
  cv::merge(std::vector<cv::Mat>{light / tint, light, light.mul(tint)}, plan.light);
  out.look.broken = work.shade;
  out.look.sun = {0.1, 0.1, 0.1}, out.look.shade = {0.017, 0.022, 0.027};
  return out;
}

std::optional<OlderCoat> found_in(const Patchwork& work) {
  const Seen scene = seen(work);
  return find_duller_coat(scene.plan, scene.bare, scene.level, scene.look, kCore, kBlurPx);
}

TEST(DullerCoat, SharpEvenPatchesAtChipsAreAnOlderCoat) {
  for (const double dull : {0.45, 0.6, 0.7}) {
    const Seen scene = seen({dull});
    const auto older = find_duller_coat(scene.plan, scene.bare, scene.level, scene.look, kCore, kBlurPx);
    ASSERT_TRUE(older) << dull;
    EXPECT_NEAR(older->share, scene.share, 0.25 * scene.share) << dull;
    EXPECT_NEAR(older->over_pavement[1], 1 + (kPaintOverBare - 1) * dull, 0.2) << dull;
  }
}

TEST(DullerCoat, WhatFadesInAndOutIsFilm) { EXPECT_FALSE(found_in({0.6, 7})); }

TEST(DullerCoat, WithoutChipsItIsAStain) { EXPECT_FALSE(found_in({0.6, 0.7, false})); }

TEST(DullerCoat, MottledPatchesAreAbrasion) { EXPECT_FALSE(found_in({0.6, 0.7, true, 0.2})); }

TEST(DullerCoat, PatchesAwayFromTheChipsAreSomethingElse) { EXPECT_FALSE(found_in({0.6, 0.7, true, 0, 32})); }

TEST(DullerCoat, NearlyAsBrightAsTheTopCoatIsTheTopCoat) { EXPECT_FALSE(found_in({0.93})); }

TEST(DullerCoat, AsMuchBluerAsShadeIsShade) {
  Patchwork work;
  work.shade = true;
  EXPECT_TRUE(found_in(work));
  work.bluer = 0.11;  // shade of these patches' depth
  EXPECT_FALSE(found_in(work));
  work.shade = false;
  EXPECT_TRUE(found_in(work));
}

Condition condition_of(const Scene& scene) {
  const auto found = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0);
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

TEST(DullerCoat, GreyedWhiteUnderWhiteIsNotCountedAsTopCoat) {
  for (const std::uint64_t seed : {1U, 2U, 3U}) {
    const Scene scene = paint_scene::make(white_on_white(seed));
    const Condition found = condition_of(scene);
    EXPECT_EQ(found.older_colour, Colour::white);
    EXPECT_NEAR(100 * found.remaining.value.value, 100 * scene.remaining, 4) << seed;
    EXPECT_NEAR(100 * found.older_coat.value.value, 100 * scene.older, 5) << seed;
    EXPECT_NEAR(100 * found.any_coat.value, 100 * scene.any_coat, 6) << seed;
  }
}

TEST(DullerCoat, NoneGrowsFromShadowSoilTyresOrWear) {
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

}  // namespace
}  // namespace lotwear
