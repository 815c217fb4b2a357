// What holds whatever the numbers are.
#include <gtest/gtest.h>

#include <opencv2/core.hpp>

#include "measure/measure.hpp"
#include "support/paint_scene.hpp"

namespace lotwear {
namespace {

using paint_scene::Light;
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

TEST(Laws, ExposureDoesNotCount) {
  Spec spec = small();
  spec.abraded = 0.3, spec.exposure = 1.0;
  const double bright = condition_of(paint_scene::make(spec)).remaining.value.value;
  spec.exposure = 0.5;
  EXPECT_NEAR(condition_of(paint_scene::make(spec)).remaining.value.value, bright, 0.02);
}

TEST(Laws, MoreWearNeverRaisesIt) {
  double before = 2;
  for (const double worn : {0.02, 0.15, 0.35, 0.6, 0.85}) {
    Spec spec = small();
    spec.abraded = worn;
    const double now = condition_of(paint_scene::make(spec)).remaining.value.value;
    EXPECT_LT(now, before) << worn;
    before = now;
  }
}

TEST(Laws, RemainingAndLossesMakeOne) {
  Spec spec = small();
  spec.abraded = 0.2, spec.flaked = 0.15, spec.cracked = 0.02;
  const Condition c = condition_of(paint_scene::make(spec));
  EXPECT_NEAR(c.remaining.value.value + c.loss.abraded.value + c.loss.flaked.value + c.loss.cracked.value, 1, 1e-9);
  EXPECT_LE(c.remaining.low, c.remaining.value);
  EXPECT_LE(c.remaining.value, c.remaining.high);
  EXPECT_LE(c.remaining.value.value, c.any_coat.value + 1e-12);
}

TEST(Laws, SamePhotoSameAnswer) {
  Spec spec = small();
  spec.light = Light::dapple, spec.abraded = 0.2;
  const Scene scene = paint_scene::make(spec);
  const auto one = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0);
  const auto two = measure(scene.photo, {}, scene.ground, {scene.footprint}, 0);
  ASSERT_TRUE(one && two);
  EXPECT_EQ(one->condition.remaining.value.value, two->condition.remaining.value.value);
  EXPECT_EQ(cv::norm(one->map.fraction, two->map.fraction, cv::NORM_INF), 0);
}

TEST(Interval, HoldsTheTruthAboutNineTimesInTen) {
  int held = 0, count = 0;
  double width = 0;
  for (int i = 0; i < 8; ++i) {
    Spec spec = small();
    spec.seed = static_cast<std::uint64_t>(300 + i);
    spec.abraded = 0.08 * i;
    const Scene scene = paint_scene::make(spec);
    const Interval found = condition_of(scene).remaining;
    held += found.low.value <= scene.remaining && scene.remaining <= found.high.value;
    width += found.high.value - found.low.value;
    ++count;
  }
  EXPECT_GE(held, 6);
  EXPECT_LT(width / count, 0.16);
}

}  // namespace
}  // namespace lotwear
