// The share of paint left on small made-up scenes in even light, with truth counted on the ground raster.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/measure.hpp"
#include "support/paint_scene.hpp"

namespace lotwear {
namespace {

using paint_scene::Scene;
using paint_scene::Spec;

Spec small() {
  Spec spec;
  spec.length_mm = 700;
  spec.pixel_mm = 1.5;
  return spec;
}

Condition condition_of(const Scene& scene) {
  const auto found = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0);
  EXPECT_TRUE(found) << (found ? "" : found.problem().what);
  return found ? found->condition : Condition{};
}

double error_of(const Spec& spec) {
  const Scene scene = paint_scene::make(spec);
  return 100 * (condition_of(scene).remaining.value.value - scene.remaining);
}

TEST(Remaining, FreshLineIsWhole) { EXPECT_NEAR(error_of(small()), 0, 1.6); }

TEST(Remaining, WornLineByHowMuchIsWorn) {
  for (const double worn : {0.1, 0.3, 0.6}) {
    Spec spec = small();
    spec.abraded = worn;
    EXPECT_NEAR(error_of(spec), 0, 3.5) << worn;
  }
}

TEST(Remaining, FlakedLineByHowMuchIsGone) {
  Spec spec = small();
  spec.flaked = 0.3;
  EXPECT_NEAR(error_of(spec), 0, 2.5);
}

TEST(Remaining, EveryColourOnEveryPavement) {
  for (const auto& paint : {paint_scene::kWhite, paint_scene::kYellow, paint_scene::kBlue, paint_scene::kRed}) {
    for (const auto& pavement : {paint_scene::kAsphalt, paint_scene::kConcrete}) {
      Spec spec = small();
      spec.paint = paint, spec.pavement = pavement;
      spec.texture = pavement[0] > 0.3 ? 0.08 : 0.22;
      spec.flaked = 0.25;
      EXPECT_NEAR(error_of(spec), 0, 3.5) << paint[0] << " on " << pavement[0];
    }
  }
}

TEST(Remaining, TooSmallOrOutOfThePictureIsAProblem) {
  const Scene scene = paint_scene::make(small());
  Footprint tiny = scene.footprint;
  tiny.rings = {{{260, 260}, {300, 260}, {300, 264}, {260, 264}}};
  tiny.width_mm = 4;
  const auto small_one = measure(scene.photo, {}, scene.ground, {tiny}, 0);
  ASSERT_FALSE(small_one);
  EXPECT_THAT(small_one.problem().what, testing::HasSubstr("too small"));
  Footprint away = scene.footprint;
  for (GroundPoint& p : away.rings[0])
    p.y += 9000;
  EXPECT_FALSE(measure(scene.photo, {}, scene.ground, {away}, 0));
}

}  // namespace
}  // namespace lotwear
