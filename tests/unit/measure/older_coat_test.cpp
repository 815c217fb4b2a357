// Two coats and bare pavement: which is which, and when the answer stays open.
#include <gtest/gtest.h>

#include "measure/coat_reader.hpp"
#include "measure/measure.hpp"
#include "support/paint_scene.hpp"

namespace lotwear {
namespace {

using paint_scene::Light;
using paint_scene::Scene;
using paint_scene::Spec;

Spec flaking() {
  Spec spec;
  spec.length_mm = 900, spec.width_mm = 150, spec.pixel_mm = 1.2;
  spec.flaked = 0.3, spec.older_share = 0.6;
  return spec;
}

const CoatReader& reader() {
  static const CoatReader the_reader(LOTWEAR_MODELS);
  return the_reader;
}

Condition condition_of(const Scene& scene) {
  const auto found = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0, &reader());
  EXPECT_TRUE(found) << (found ? "" : found.problem().what);
  return found ? found->condition : Condition{};
}

TEST(OlderCoat, WhiteUnderBlueIsBrighterThanTheTopCoatAndStillOlder) {
  Spec spec = flaking();
  spec.paint = paint_scene::kBlue;
  spec.older = {0.5, 0.5, 0.47};
  const Scene scene = paint_scene::make(spec);
  const Condition found = condition_of(scene);
  EXPECT_EQ(found.colour, Colour::blue);
  EXPECT_EQ(found.older_colour, Colour::white);
  EXPECT_NEAR(100 * found.remaining.value.value, 100 * scene.remaining, 6);
  EXPECT_NEAR(100 * found.older_coat.value.value, 100 * scene.older, 6);
}

TEST(OlderCoat, ABrightWhiteUnderRedIsNotTakenForThePaint) {
  Spec spec = flaking();
  spec.paint = {0.42, 0.035, 0.06};
  spec.older = {0.84, 0.84, 0.8};
  const Scene scene = paint_scene::make(spec);
  const Condition found = condition_of(scene);
  EXPECT_EQ(found.colour, Colour::red);
  EXPECT_EQ(found.older_colour, Colour::white);
  EXPECT_NEAR(100 * found.remaining.value.value, 100 * scene.remaining, 6);
  EXPECT_NEAR(100 * found.older_coat.value.value, 100 * scene.older, 6);
}

TEST(OlderCoat, GreyedYellowUnderYellowIsTold) {
  Spec spec = flaking();
  spec.paint = paint_scene::kYellow;
  spec.older = {0.42, 0.32, 0.13};
  const Scene scene = paint_scene::make(spec);
  const Condition found = condition_of(scene);
  EXPECT_EQ(found.older_colour, Colour::yellow);
  EXPECT_NEAR(100 * found.remaining.value.value, 100 * scene.remaining, 6);
}

TEST(OlderCoat, NoneGrowsFromSoilWearOrFoliage) {
  for (const paint_scene::Reflectance& paint : {paint_scene::kWhite, paint_scene::kYellow, paint_scene::kBlue}) {
    Spec spec = flaking();
    spec.paint = paint, spec.older_share = 0, spec.abraded = 0.2;
    spec.soil = 0.3;
    EXPECT_LT(condition_of(paint_scene::make(spec)).older_coat.value.value, 0.01);
    spec.soil = 0, spec.tyre = 0.4;
    EXPECT_LT(condition_of(paint_scene::make(spec)).older_coat.value.value, 0.01);
    spec.tyre = 0, spec.light = Light::dapple;
    EXPECT_LT(condition_of(paint_scene::make(spec)).older_coat.value.value, 0.01);
  }
}

TEST(OlderCoat, ClippedYellowUnderFilmIsOneCoat) {
  Spec spec = flaking();
  spec.paint = paint_scene::kYellow, spec.older_share = 0;
  spec.exposure = 1.8, spec.soil = 0.35;
  EXPECT_LT(condition_of(paint_scene::make(spec)).older_coat.value.value, 0.01);
}

TEST(OlderCoat, WhereHalfIsOfEachCoatTheIntervalHoldsBothAnswersOrTheRightOne) {
  // Nearly as much of the one as of the other, next to nothing bare: the photo hardly says which lies on top.
  Spec spec = flaking();
  spec.paint = paint_scene::kYellow, spec.older = {0.5, 0.5, 0.47};
  spec.flaked = 0.52, spec.older_share = 1;
  const Scene scene = paint_scene::make(spec);
  const Condition found = condition_of(scene);
  EXPECT_LE(found.remaining.low.value, scene.remaining);
  EXPECT_GE(found.remaining.high.value, scene.remaining);
  EXPECT_TRUE(found.in_doubt);
}

}  // namespace
}  // namespace lotwear
