#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>

#include "ground/ground.hpp"
#include "ground/straight_edges.hpp"
#include "support/ground_scene.hpp"

namespace lotwear {
namespace {

using test::GroundScene;

GroundRing bar(GroundPoint middle, double angle, double length_mm, double width_mm) {
  const GroundPoint u{std::cos(angle), std::sin(angle)}, v{-u.y, u.x};
  const GroundPoint l = u * (length_mm / 2), w = v * (width_mm / 2);
  return {middle - l - w, middle + l - w, middle + l + w, middle - l + w};
}

GroundScene crosswalk() {
  GroundScene scene;
  scene.size = {1344, 1008};
  scene.view = test::view_from(40, 1.5, 2000, 985);
  const GroundPoint m = test::middle_of(scene);
  for (const double off : {-600.0, 0.0, 600.0}) {
    scene.paint.push_back(bar(m + GroundPoint{-std::sin(0.7), std::cos(0.7)} * off, 0.7, 1600, 300));
  }
  return scene;
}

/// How much longer lengths along the view come out than across it.
double shape_error_of(const GroundScene& scene, const Ground& found) {
  const Ground truth = ground_of(scene.view, scene.size);
  const GroundPoint g = test::middle_of(scene), along = g * (200 / length(g)), across{-along.y, along.x};
  const auto measured = [&](GroundPoint half) {
    return length(found.ground_from_image(truth.image_from_ground(g + half)) -
                  found.ground_from_image(truth.image_from_ground(g - half)));
  };
  return std::log(measured(along) / measured(across));
}

TEST(StraightEdges, AreThoseOfThePaint) {
  const GroundScene scene = crosswalk();
  const auto edges = straight_edges(photograph(scene), perfect_map(scene, 2));
  ASSERT_GE(edges.size(), 8U);
  const Ground truth = ground_of(scene.view, scene.size);
  for (const EdgeLine& e : edges) {
    // Both ends lie on one side of some painted bar.
    double nearest = 1e9;
    for (const GroundRing& ring : scene.paint) {
      for (std::size_t i = 0; i < 4; ++i) {
        const ImagePoint a = truth.image_from_ground(ring[i]), b = truth.image_from_ground(ring[(i + 1) % 4]);
        const auto off = [&](ImagePoint p) { return std::abs(cross(b - a, p - a)) / length(b - a); };
        nearest = std::min(nearest, std::max(off(e.from), off(e.to)));
      }
    }
    EXPECT_LT(nearest, 0.35);
  }
}

TEST(FindGround, EdgesOfMarkingsGiveThePlane) {
  const GroundScene scene = crosswalk();
  const auto ground = find_ground(photograph(scene), perfect_map(scene, 2));
  ASSERT_TRUE(ground);
  EXPECT_EQ(ground->source, "focal-length");
  EXPECT_NEAR(ground->tilt_deg, 40, 1);
  EXPECT_LT(std::abs(shape_error_of(scene, *ground)), 0.02);
  EXPECT_LT(ground->shape_error.value, 0.04);
  EXPECT_TRUE(ground->sheet.empty());
}

TEST(FindGround, TheHoldingHeightIsAWeakScaleAndSaysSo) {
  GroundScene scene = crosswalk();
  const auto by_hand = find_ground(photograph(scene), perfect_map(scene, 2));
  ASSERT_TRUE(by_hand && by_hand->scale_error);
  EXPECT_NEAR(by_hand->scale_error->value, 0.175, 0.02);
  // A picture of unknown origin may show anything at any scale.
  scene.focal_in_file = false;
  const auto unknown = find_ground(photograph(scene), perfect_map(scene, 2));
  ASSERT_TRUE(unknown);
  EXPECT_FALSE(unknown->scale_error);
}

TEST(FindGround, ASheetGivesTheScaleAndEdgesHelpItFarAway) {
  GroundScene scene = crosswalk();
  scene.sheet = test::sheet_at(test::middle_of(scene) + GroundPoint{500, 500}, 0.2);
  const auto ground = find_ground(photograph(scene), perfect_map(scene, 2));
  ASSERT_TRUE(ground);
  EXPECT_EQ(ground->source, "scale-sheet");
  ASSERT_TRUE(ground->scale_error);
  EXPECT_LT(ground->scale_error->value, 0.01);
  EXPECT_LT(std::abs(shape_error_of(scene, *ground)), 0.01);
  const Ground truth = ground_of(scene.view, scene.size);
  const GroundRing& side = scene.paint.front();
  const double measured = length(ground->ground_from_image(truth.image_from_ground(side[0])) -
                                 ground->ground_from_image(truth.image_from_ground(side[1])));
  EXPECT_NEAR(measured, 1600, 1600 * 0.008);
  EXPECT_EQ(ground->sheet.size(), 4U);
}

TEST(FindGround, WithoutPaintItAssumesAHandHeldPhone) {
  GroundScene scene = crosswalk();
  scene.paint.clear();
  const auto ground = find_ground(photograph(scene), perfect_map(scene, 2));
  ASSERT_TRUE(ground);
  EXPECT_EQ(ground->source, "assumed");
  EXPECT_NEAR(ground->tilt_deg, 35, 8);
  EXPECT_GT(ground->shape_error.value, 0.1);
}

TEST(FindGround, AFinderThatSaidNothingIsNoReasonToRefuse) {
  const auto ground = find_ground(photograph(crosswalk()), {});
  ASSERT_TRUE(ground);
  EXPECT_EQ(ground->source, "assumed");
}

TEST(FindGround, RefusesAPictureWithoutPavement) {
  Photo photo;
  photo.file = "IMG_0007.jpg";
  photo.rgb = cv::Mat(300, 400, CV_8UC3, cv::Scalar(120, 160, 220));
  PaintMap map;
  map.photo_per_cell = 4;
  map.footprint = map.pavement = cv::Mat::zeros(75, 100, CV_32F);
  map.not_ground = cv::Mat::ones(75, 100, CV_32F);
  const auto ground = find_ground(photo, map);
  ASSERT_FALSE(ground);
  EXPECT_EQ(ground.problem().file, "IMG_0007.jpg");
  EXPECT_THAT(ground.problem().what, testing::HasSubstr("no pavement"));
}

TEST(FindGround, GivesTheSameAnswerForAnyNumberOfThreads) {
  GroundScene scene = crosswalk();
  scene.sheet = test::sheet_at(test::middle_of(scene) + GroundPoint{500, 500}, 0.2);
  const Photo photo = photograph(scene);
  const PaintMap map = perfect_map(scene, 2);
  const int before = cv::getNumThreads();
  cv::setNumThreads(1);
  const auto one = find_ground(photo, map);
  cv::setNumThreads(4);
  const auto four = find_ground(photo, map);
  cv::setNumThreads(before);
  ASSERT_TRUE(one && four);
  EXPECT_EQ(one->ground_from_image.matrix(), four->ground_from_image.matrix());
  EXPECT_EQ(one->scale_error->value, four->scale_error->value);
}

TEST(FindGround, TakesTheSmallestPicture) {
  Photo photo;
  photo.file = "dot.png";
  photo.rgb = cv::Mat(1, 1, CV_8UC3, cv::Scalar::all(90));
  const auto ground = find_ground(photo, {});
  ASSERT_TRUE(ground);
  EXPECT_EQ(ground->source, "assumed");
}

}  // namespace
}  // namespace lotwear
