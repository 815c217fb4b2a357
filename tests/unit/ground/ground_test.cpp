#include "ground/ground.hpp"

#include <gtest/gtest.h>

#include <numbers>
#include <random>

namespace lotwear {
namespace {

constexpr double kDegree = std::numbers::pi / 180;

std::array<double, 3> tilted(double tilt_deg, double roll_deg = 0) {
  const double t = tilt_deg * kDegree, r = roll_deg * kDegree;
  return {-std::sin(t) * std::sin(r), std::sin(t) * std::cos(r), std::cos(t)};
}

const Camera kPhone{3000, true};
const cv::Size kPhoto(4032, 3024);

TEST(GroundFromPose, LookingStraightDownIsAScaledPhoto) {
  const Ground ground = ground_from_pose(kPhone, kPhoto, {0, 0, 1}, Millimetres{1500});
  const GroundPoint centre = ground.ground_from_image({2016, 1512});
  EXPECT_NEAR(centre.x, 0, 1e-9);
  EXPECT_NEAR(centre.y, 0, 1e-9);
  const GroundPoint right_and_down = ground.ground_from_image({2016 + 300, 1512 + 200});
  EXPECT_NEAR(right_and_down.x, 150, 1e-9);  // 0.5 mm a pixel
  EXPECT_NEAR(right_and_down.y, 100, 1e-9);
  EXPECT_NEAR(ground.tilt_deg, 0, 1e-9);
  EXPECT_FALSE(ground.scale_error.has_value());
}

// Similar triangles by hand: at 60 degrees the optical axis meets the ground at height x tan 60.
TEST(GroundFromPose, TheAxisOfATiltedCameraMeetsTheGroundAtHeightTimesTangent) {
  const Ground ground = ground_from_pose(kPhone, kPhoto, tilted(60), Millimetres{1500});
  const GroundPoint centre = ground.ground_from_image({2016, 1512});
  EXPECT_NEAR(centre.x, 0, 1e-9);
  EXPECT_NEAR(centre.y, -1500 * std::tan(60 * kDegree), 1e-9);  // ahead is up in a picture, and y runs down
  EXPECT_NEAR(ground.tilt_deg, 60, 1e-9);
}

TEST(GroundFromPose, ThereAndBackAgainToANanometre) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> tilt(0, 75), roll(-20, 20), u(0, 4032), v(1512, 3024);
  for (int i = 0; i < 200; ++i) {
    const Ground ground = ground_from_pose(kPhone, kPhoto, tilted(tilt(random), roll(random)), Millimetres{1500});
    const ImagePoint p{u(random), v(random)};
    if (ground.ground_from_image.depth(p) < 0.05) continue;
    const ImagePoint back = ground.image_from_ground(ground.ground_from_image(p));
    EXPECT_NEAR(back.x, p.x, 1e-6);
    EXPECT_NEAR(back.y, p.y, 1e-6);
    EXPECT_GT(ground.image_from_ground.depth(ground.ground_from_image(p)), 0);
  }
}

TEST(GroundFromPose, KeepsDistancesFromTheCamera) {
  const Ground ground = ground_from_pose(kPhone, kPhoto, tilted(50, 8), Millimetres{1400});
  for (const ImagePoint p : {ImagePoint{100, 2000}, {2016, 1512}, {3900, 2900}}) {
    const GroundPoint g = ground.ground_from_image(p);
    const auto n = tilted(50, 8);
    const double rx = (p.x - 2016) / 3000, ry = (p.y - 1512) / 3000;
    const double along = 1400 / (n[0] * rx + n[1] * ry + n[2]);
    EXPECT_NEAR(std::hypot(g.x, g.y, 1400), along * std::hypot(rx, ry, 1.0), 1e-8);
  }
}

TEST(GroundFromPose, SeesTheHorizonWhereTheSkyStarts) {
  const Ground ground = ground_from_pose(kPhone, kPhoto, tilted(70), Millimetres{1500});
  const double horizon = 1512 - 3000 / std::tan(70 * kDegree);
  EXPECT_GT(ground.ground_from_image.depth({2016, horizon + 1}), 0);
  EXPECT_LT(ground.ground_from_image.depth({2016, horizon - 1}), 0);
}

TEST(GroundFromPose, RefusesBrokenPromises) {
  EXPECT_THROW(ground_from_pose(kPhone, kPhoto, {0, 0, 2}, Millimetres{1500}), Broken);
  EXPECT_THROW(ground_from_pose(kPhone, kPhoto, {0, 0, 1}, Millimetres{0}), Broken);
  EXPECT_THROW(ground_from_pose({0, false}, kPhoto, {0, 0, 1}, Millimetres{1500}), Broken);
}

TEST(WithScale, MultipliesLengthsAndNothingElse) {
  const Ground ground = ground_from_pose(kPhone, kPhoto, tilted(40, -3), Millimetres{1500});
  const Ground larger = with_scale(ground, 1.25, "stripe-width", Fraction{0.03});
  const ImagePoint p{800, 2200}, q{3000, 1700};
  const double before = length(ground.ground_from_image(p) - ground.ground_from_image(q));
  EXPECT_NEAR(length(larger.ground_from_image(p) - larger.ground_from_image(q)), 1.25 * before, 1e-9);
  const ImagePoint back = larger.image_from_ground(larger.ground_from_image(p));
  EXPECT_NEAR(back.x, p.x, 1e-8);
  EXPECT_NEAR(back.y, p.y, 1e-8);
  EXPECT_EQ(larger.source, "stripe-width");
  EXPECT_DOUBLE_EQ(larger.scale_error.value().value, 0.03);
  EXPECT_EQ(larger.tilt_deg, ground.tilt_deg);
  EXPECT_THROW(with_scale(ground, 0, "shape", Fraction{}), Broken);
}

TEST(GroundPixel, GrowsWithDistanceAlongTheView) {
  const Ground down = ground_from_pose(kPhone, kPhoto, {0, 0, 1}, Millimetres{1500});
  EXPECT_NEAR(ground_pixel(down, {100, 200}).across_mm, 0.5, 1e-9);
  EXPECT_NEAR(ground_pixel(down, {100, 200}).along_mm, 0.5, 1e-9);
  // On the axis, `slant` away: slant / focal across; divided by the cosine of the tilt along the view.
  const Ground tilt = ground_from_pose(kPhone, kPhoto, tilted(60), Millimetres{1500});
  EXPECT_NEAR(ground_pixel(tilt, {2016, 1512}).across_mm, 3000.0 / 3000, 1e-9);
  EXPECT_NEAR(ground_pixel(tilt, {2016, 1512}).along_mm, 3000.0 / 3000 / 0.5, 1e-9);
  EXPECT_THROW(ground_pixel(tilt, {2016, -3000}), Broken);
}

Photo blank(int width, int height) {
  Photo photo;
  photo.rgb = cv::Mat(height, width, CV_8UC3, cv::Scalar::all(0));
  return photo;
}

TEST(CameraOf, TakesTheFocalLengthOfTheFile) {
  Photo photo = blank(400, 300);
  photo.focal_px = 310;
  EXPECT_EQ(camera_of(photo).focal_px, 310);
  EXPECT_TRUE(camera_of(photo).focal_known);
}

TEST(CameraOf, OtherwiseGuessesAPhone) {
  const Camera camera = camera_of(blank(400, 300));
  EXPECT_FALSE(camera.focal_known);
  EXPECT_NEAR(camera.focal_px, 500 * 26 / std::hypot(36, 24), 0.1);
}

TEST(CameraOf, DoesNotBelieveAFocalLengthThatNoLensHas) {
  Photo photo = blank(400, 300);
  photo.focal_px = 3;
  EXPECT_FALSE(camera_of(photo).focal_known);
}

}  // namespace
}  // namespace lotwear
