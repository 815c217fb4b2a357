#include "views/sketch.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <opencv2/imgcodecs.hpp>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "made_up.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;

Photo even_photo(cv::Size size) {
  Photo photo;
  photo.file = "IMG_0001.jpg";
  photo.rgb = cv::Mat(size, CV_8UC3, cv::Scalar(100, 100, 100));
  photo.space = srgb_space();
  return photo;
}

/// Straight down: `mm` millimetres a photo pixel.
Ground from_above(double mm) {
  Ground ground;
  ground.ground_from_image = GroundFromImage({mm, 0, 0, 0, mm, 0, 0, 0, 1});
  ground.image_from_ground = ground.ground_from_image.inverse();
  ground.source = "scale-sheet";
  ground.scale_error = Fraction{0.01};
  return ground;
}

bool changed(const cv::Mat& picture, int x, int y) {
  const auto p = picture.at<cv::Vec3b>(y, x);
  return std::max({std::abs(p[0] - 100), std::abs(p[1] - 100), std::abs(p[2] - 100)}) > 30;
}

TEST(SketchGround, LinesLieEveryMetre) {
  const cv::Mat picture = sketch_ground(even_photo({800, 600}), from_above(5));  // a line every 200 px
  for (int x = 20; x < 780; ++x) {
    const int off = std::abs(x - static_cast<int>(std::lround(x / 200.0)) * 200);
    if (off >= 3) {
      EXPECT_FALSE(changed(picture, x, 500)) << x;
    }
  }
  for (const int x : {200, 400, 600})
    EXPECT_TRUE(changed(picture, x, 500) || changed(picture, x - 1, 500)) << x;
  for (const int y : {200, 400})
    EXPECT_TRUE(changed(picture, 500, y) || changed(picture, 500, y - 1)) << y;
}

TEST(SketchGround, StopsAtTheHorizon) {
  Ground ground = from_above(5);
  ground.ground_from_image = GroundFromImage({5, 0, 0, 0, 5, 0, 0, 0.01, -3});  // horizon at y = 300
  const cv::Mat picture = sketch_ground(even_photo({800, 600}), ground);
  int above = 0, below = 0;
  for (int x = 0; x < 800; ++x) {
    for (int y = 60; y < 290; ++y)
      above += changed(picture, x, y);
    for (int y = 350; y < 600; ++y)
      below += changed(picture, x, y);
  }
  EXPECT_EQ(above, 0);
  EXPECT_GT(below, 200);
}

TEST(SketchFinder, ColoursTheCellsWhereTheyLie) {
  PaintMap paint;
  paint.photo_per_cell = 8;
  paint.top_coat = cv::Mat::zeros(75, 100, CV_32F);
  paint.top_coat(cv::Rect(50, 25, 10, 10)).setTo(1);  // photo pixels 400..480 x 200..280
  const cv::Mat picture = sketch_finder(even_photo({800, 600}), paint);
  const auto green = [&](int x, int y) { return picture.at<cv::Vec3b>(y, x)[1] > 130; };
  for (const int x : {406, 440, 474})
    EXPECT_TRUE(green(x, 240)) << x;
  for (const int x : {390, 490})
    EXPECT_FALSE(green(x, 240)) << x;
  EXPECT_TRUE(green(440, 206));
  EXPECT_FALSE(green(440, 190));
  EXPECT_FALSE(green(440, 290));
}

TEST(SketchKinds, TakesMapsOfTheirOwnSize) {
  PaintMap paint;
  paint.photo_per_kind_cell = 16;
  paint.kinds.assign(kFinderKinds, cv::Mat::zeros(38, 50, CV_32F));
  paint.kinds[4](cv::Rect(20, 10, 5, 5)).setTo(1);  // arrow
  const cv::Mat picture = sketch_kinds(even_photo({800, 600}), paint);
  EXPECT_GT(picture.at<cv::Vec3b>(200, 360)[1], 130);
  EXPECT_EQ(picture.at<cv::Vec3b>(200, 100)[1], 100);
}

TEST(SketchMarkings, DrawsOutlinesWhereTheyLieAndTakesAnyRing) {
  Markings markings;
  markings.ground = from_above(5);
  Footprint footprint;
  footprint.rings = {{{1000, 1000}, {2000, 1000}, {2000, 2000}, {1000, 2000}}};  // photo pixels 200..400
  Footprint endless;
  endless.rings = {{{-1e15, 0}, {1e15, 0}, {0, std::nan("")}, {0, 1e15}}};
  markings.footprints = {footprint};
  const cv::Mat picture =
      sketch_markings(even_photo({800, 600}), markings, {Interval{Fraction{0.6}, Fraction{0.63}, Fraction{0.66}}});
  EXPECT_TRUE(changed(picture, 199, 300) || changed(picture, 200, 300));
  EXPECT_FALSE(changed(picture, 300, 300));
  markings.footprints = {footprint, endless};
  EXPECT_EQ(sketch_markings(even_photo({800, 600}), markings, {}).size(), cv::Size(800, 600));
}

TEST(SketchPlans, HoldsEveryMarkingInASheetOfBoundedWidth) {
  std::vector<LossMap> maps;
  for (std::uint32_t i = 0; i < 5; ++i)
    maps.push_back(made_up::loss_map({200, 400}, i, 0.1, 0.1, false, {230, 230, 230}));
  const cv::Mat five = sketch_plans(maps, {"M001"}), none = sketch_plans({}, {});
  EXPECT_EQ(five.cols, 1600);
  EXPECT_GT(five.rows, none.rows);
  maps.resize(2);
  EXPECT_LT(sketch_plans(maps, {}).rows, five.rows);
}

TEST(WriteSketch, NamesThePhotoAndTheStage) {
  const fs::path folder = fs::temp_directory_path() / ("lotwear-sketch-" + std::to_string(::getpid()));
  const Photo photo = even_photo({3000, 2000});
  write_sketch(folder / "deep", photo, "1-capture", sketch_capture(photo));
  const cv::Mat read = cv::imread((folder / "deep" / "IMG_0001-1-capture.jpg").string());
  EXPECT_EQ(read.size(), cv::Size(1500, 1000));
  write_file(folder / "file", "in the way");
  EXPECT_THROW(write_sketch(folder / "file", photo, "1-capture", read), Failure);
  fs::remove_all(folder);
}

}  // namespace
}  // namespace lotwear
