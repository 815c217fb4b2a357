#include "ground/edge_line.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

namespace lotwear {
namespace {

struct EdgeScene {
  double angle = 0.2;                // of the edge against the photo's x axis
  double through = 60.3;             // where the edge cuts the photo's middle column
  double bright = 0.7, dark = 0.08;  // linear light; bright above the edge
  double blur = 0.8, noise = 0;
  double shade = 1;  // light right of x = 60
  unsigned seed = 1;
};

Photo photo_of(const EdgeScene& scene) {
  constexpr int kSide = 120, kLooks = 20;
  cv::Mat light(kSide, kSide, CV_32F);
  for (int row = 0; row < kSide; ++row) {
    for (int column = 0; column < kSide; ++column) {
      double sum = 0;
      for (int i = 0; i < kLooks; ++i) {
        const double y = row + (i + 0.5) / kLooks;
        for (int j = 0; j < kLooks; ++j) {
          const double x = column + (j + 0.5) / kLooks;
          const double value = y < scene.through + std::tan(scene.angle) * (x - 60) ? scene.bright : scene.dark;
          sum += value * (x > 60 ? scene.shade : 1);
        }
      }
      light.at<float>(row, column) = static_cast<float>(sum / (kLooks * kLooks));
    }
  }
  cv::GaussianBlur(light, light, {}, scene.blur);
  Photo photo;
  for (std::size_t i = 0; i < 256; ++i)
    photo.space.linear[i] = static_cast<float>(std::pow(static_cast<double>(i) / 255, 2.2));
  photo.rgb = cv::Mat(kSide, kSide, CV_8UC3);
  std::mt19937 random(scene.seed);
  std::normal_distribution<double> noise(0, std::max(1e-9, scene.noise));
  for (int row = 0; row < kSide; ++row) {
    for (int column = 0; column < kSide; ++column) {
      const double encoded = 255 * std::pow(static_cast<double>(light.at<float>(row, column)), 1 / 2.2);
      photo.rgb.at<cv::Vec3b>(row, column) = cv::Vec3b::all(cv::saturate_cast<unsigned char>(encoded + noise(random)));
    }
  }
  return photo;
}

ImagePoint on_edge(const EdgeScene& scene, double x, double off = 0) {
  return {x, scene.through + std::tan(scene.angle) * (x - 60) + off};
}

/// Distance of the true edge's point at `x` from the line found.
double miss(const EdgeScene& scene, const EdgeLine& line, double x) {
  const ImagePoint d = line.to - line.from;
  return cross(d, on_edge(scene, x) - line.from) / length(d);
}

std::optional<EdgeLine> found_in(const EdgeScene& scene, double off = 1.2) {
  return fit_edge(photo_of(scene), on_edge(scene, 20, off), on_edge(scene, 100, -off), {});
}

TEST(FitEdge, FindsACleanEdgeToATwentiethOfAPixel) {
  for (const double angle : {-0.7, -0.01, 0.0, 0.2, 0.6}) {
    EdgeScene scene;
    scene.angle = angle;
    const auto line = found_in(scene);
    ASSERT_TRUE(line) << angle;
    EXPECT_NEAR(miss(scene, *line, 25), 0, 0.05) << angle;
    EXPECT_NEAR(miss(scene, *line, 95), 0, 0.05) << angle;
    EXPECT_GT(line->crossings, 0.95);
    EXPECT_NEAR(line->left_over_right, 0.7 / 0.08, 1.5);  // walking right, the upper side is on the left
  }
}

TEST(FitEdge, WalkedTheOtherWayTheSidesSwap) {
  const EdgeScene scene;
  const auto line = fit_edge(photo_of(scene), on_edge(scene, 100), on_edge(scene, 20), {});
  ASSERT_TRUE(line);
  EXPECT_LT(line->left_over_right, 0.2);
}

TEST(FitEdge, BlurDoesNotPushItToTheDarkSide) {
  for (const double blur : {0.5, 1.0, 1.6}) {
    EdgeScene scene;
    scene.blur = blur;
    const auto line = found_in(scene);
    ASSERT_TRUE(line) << blur;
    EXPECT_NEAR(miss(scene, *line, 60), 0, 0.06) << blur;
  }
}

TEST(FitEdge, AShadowAcrossItMovesNothing) {
  EdgeScene scene;
  scene.shade = 0.12;
  const auto line = found_in(scene);
  ASSERT_TRUE(line);
  EXPECT_NEAR(miss(scene, *line, 25), 0, 0.08);
  EXPECT_NEAR(miss(scene, *line, 95), 0, 0.08);
}

TEST(FitEdge, StatesItsErrorHonestly) {
  double squares = 0;
  constexpr int kPhotos = 40;
  for (int i = 0; i < kPhotos; ++i) {
    EdgeScene scene;
    scene.noise = 12;
    scene.seed = static_cast<unsigned>(i + 1);
    scene.through = 60 + i / 40.0;
    const auto line = found_in(scene);
    ASSERT_TRUE(line);
    const double z = miss(scene, *line, 60) / line->offset_error;
    squares += z * z;
  }
  const double rms = std::sqrt(squares / kPhotos);
  EXPECT_GT(rms, 0.5);
  EXPECT_LT(rms, 1.6);
}

TEST(FitEdge, FindsNoneWhereThereIsNone) {
  EdgeScene scene;
  scene.dark = scene.bright = 0.3;
  scene.noise = 4;
  EXPECT_FALSE(found_in(scene));
  EXPECT_FALSE(fit_edge(photo_of({}), {-50, -50}, {-10, -50}, {}));
  EXPECT_FALSE(fit_edge(photo_of({}), {50, 50}, {51, 50}, {}));
}

TEST(Meeting, OfTwoLinesIsTheirCorner) {
  EdgeLine a, b;
  a.from = {0, 10};
  a.to = {5, 10};
  b.from = {20, 0};
  b.to = {20, 1};
  const auto corner = meeting(a, b);
  ASSERT_TRUE(corner);
  EXPECT_NEAR(corner->x, 20, 1e-12);
  EXPECT_NEAR(corner->y, 10, 1e-12);
  EXPECT_FALSE(meeting(a, a));
}

}  // namespace
}  // namespace lotwear
