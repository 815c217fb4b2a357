// How the paint went: worn off the stone tops or let go in flakes. A grind hangs on it.
#include <gtest/gtest.h>

#include <cmath>

#include "measure/coat_reader.hpp"
#include "measure/measure.hpp"
#include "support/paint_scene.hpp"

namespace lotwear {
namespace {

using paint_scene::Scene;
using paint_scene::Spec;

Condition seen(const Spec& spec) {
  const Scene scene = paint_scene::make(spec);
  const auto found = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0);
  EXPECT_TRUE(found);
  return found ? found->condition : Condition{};
}

TEST(Causes, ChipsAreFlakes) {
  Spec spec;
  spec.length_mm = 900, spec.flaked = 0.3;
  const Condition c = seen(spec);
  EXPECT_GT(c.loss.flaked.value, 0.75 * (1 - c.remaining.value.value));
  EXPECT_GE(c.flaked.value.value, 0.10);  // grind
}

TEST(Causes, WornStoneTopsAreNotFlakes) {
  Spec spec;
  spec.length_mm = 900, spec.abraded = 0.25, spec.wheel_path = 0.3, spec.stone_mm = 6;
  const Condition c = seen(spec);
  EXPECT_GT(c.loss.abraded.value, 0.65 * (1 - c.remaining.value.value));
  EXPECT_LT(c.flaked.value.value, 0.10);  // no grind
}

TEST(Causes, NoMillimetresNoFlakingGrade) {
  Spec spec;
  spec.length_mm = 700, spec.flaked = 0.2;
  Scene scene = paint_scene::make(spec);
  scene.ground.scale_error.reset();
  const auto found = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0);
  ASSERT_TRUE(found);
  EXPECT_FALSE(found->condition.flaking_grade);
  EXPECT_FALSE(found->condition.size);
}

TEST(Causes, AQuarterFlakedIsTheHighestDensity) {
  // ISO 4628-5, from memory: 15 % is class 5.
  Spec spec;
  spec.length_mm = 900, spec.flaked = 0.25;
  const Condition c = seen(spec);
  ASSERT_TRUE(c.flaking_grade);
  EXPECT_EQ(c.flaking_grade->density, 5);
  EXPECT_GE(c.flaking_grade->size, 4);
}

// Scenes of another make than any that the network has learned from, in leaf shadow, soil and tyre marks.
TEST(Causes, TheReaderBringsTheFlakedShareNearerInHardLight) {
  const CoatReader reader(LOTWEAR_MODELS);
  double alone = 0, both = 0;
  for (std::uint64_t seed = 900; seed < 924; ++seed) {
    const Scene scene = paint_scene::make(paint_scene::random_spec(seed, 2));
    const auto one = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0);
    const auto two = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0, &reader);
    ASSERT_TRUE(one && two) << seed;
    alone += std::abs(one->condition.loss.flaked.value - scene.flaked);
    both += std::abs(two->condition.loss.flaked.value - scene.flaked);
  }
  EXPECT_LT(both, 0.9 * alone);
}

}  // namespace
}  // namespace lotwear
