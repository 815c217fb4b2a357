// Photos of a sheet on the ground with known geometry: lengths near the sheet and across the picture come out right.
#include "ground/find_sheet.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

#include "support/ground_scene.hpp"

namespace lotwear {
namespace {

using test::GroundScene;

/// Largest relative error of 400 mm lengths in two directions over the usual points of the photo.
double worst_length_error(const GroundScene& scene, const Ground& found) {
  const Ground truth = ground_of(scene.view, scene.size);
  double worst = 0;
  for (const ImagePoint p : usual_points(scene.view, scene.size)) {
    const GroundPoint g = truth.ground_from_image(p);
    for (const GroundPoint half : {GroundPoint{200, 0}, GroundPoint{0, 200}}) {
      const GroundPoint a = found.ground_from_image(truth.image_from_ground(g - half));
      const GroundPoint b = found.ground_from_image(truth.image_from_ground(g + half));
      worst = std::max(worst, std::abs(length(a - b) / 400 - 1));
    }
  }
  return worst;
}

GroundScene close_scene(Paper paper = Paper::letter) {
  GroundScene scene;
  scene.view = test::view_from(35, 2, 1800, 1480);
  scene.sheet = test::sheet_at(test::middle_of(scene) + GroundPoint{250, 150}, 0.4, paper);
  return scene;
}

TEST(FindSheet, MeasuresCloseByToATenthOfAPercent) {
  for (const Paper paper : {Paper::letter, Paper::a4}) {
    GroundScene scene = close_scene(paper);
    scene.texture = scene.noise = 0;
    const auto found = locate_sheet(photograph(scene));
    ASSERT_TRUE(found);
    EXPECT_EQ(found->paper, paper);
    EXPECT_EQ(found->fiducials, 8);
    const Ground ground = ground_of(found->belief.view, scene.size);
    EXPECT_LT(worst_length_error(scene, ground), 0.0015);
    EXPECT_NEAR(ground.tilt_deg, 35, 0.2);
    EXPECT_NEAR(std::exp(found->belief.view.log_height), std::exp(scene.view.log_height), 10);
  }
}

TEST(FindSheet, IsReadFromEverySide) {
  for (int turn = 0; turn < 4; ++turn) {
    GroundScene scene = close_scene();
    scene.sheet = test::sheet_at(test::middle_of(scene), turn * 1.55);
    const auto ground = find_sheet(photograph(scene));
    ASSERT_TRUE(ground) << turn;
    EXPECT_LT(worst_length_error(scene, *ground), 0.004) << turn;
  }
}

TEST(FindSheet, SaysWhatItIsAndWhereTheSheetLies) {
  const GroundScene scene = close_scene();
  const auto ground = find_sheet(photograph(scene));
  ASSERT_TRUE(ground);
  EXPECT_EQ(ground->source, "scale-sheet");
  ASSERT_TRUE(ground->scale_error);
  EXPECT_GT(ground->scale_error->value, 0.002);  // the printer's own error at least
  EXPECT_LT(ground->scale_error->value, 0.01);
  ASSERT_EQ(ground->sheet.size(), 4U);
  // The paper's corners lie inside the outline, a marking a hand's width beside it does not.
  const Ground truth = ground_of(scene.view, scene.size);
  std::vector<cv::Point2f> outline;
  for (const ImagePoint p : ground->sheet)
    outline.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  const auto inside = [&](double x, double y) {
    const double c = std::cos(scene.sheet->turn), s = std::sin(scene.sheet->turn);
    const ImagePoint p = truth.image_from_ground(scene.sheet->corner + GroundPoint{c * x - s * y, s * x + c * y});
    return cv::pointPolygonTest(outline, {static_cast<float>(p.x), static_cast<float>(p.y)}, false) > 0;
  };
  EXPECT_TRUE(inside(1, 1) && inside(214, 1) && inside(214, 278) && inside(1, 278));
  EXPECT_FALSE(inside(-80, 140) || inside(300, 140) || inside(100, -80) || inside(100, 360));
}

TEST(FindSheet, SeesFourMetresAtSixtyDegrees) {
  GroundScene scene;  // 12 megapixels of a phone
  scene.size = {4032, 3024};
  scene.view = test::view_from(60, -1, 4000, 2930);
  scene.sheet = test::sheet_at(test::middle_of(scene), 0.3);
  scene.blur_px = 1.2;
  const auto found = locate_sheet(photograph(scene));
  ASSERT_TRUE(found);
  EXPECT_GE(found->fiducials, 4);
  EXPECT_LT(worst_length_error(scene, ground_of(found->belief.view, scene.size)), 0.02);
}

TEST(FindSheet, SeesByItsPaperWhatNoFiducialAloneShows) {
  struct FarOff {
    double tilt, away_mm, blur_px, worst;
  };
  for (const FarOff& seen :
       {FarOff{60, 7000, 0.6, 0.02}, {66, 6000, 0.6, 0.02}, {58, 5000, 2.0, 0.04}, {60, 6000, 1.6, 0.05}}) {
    GroundScene scene;
    scene.size = {4032, 3024};
    scene.view = test::view_from(seen.tilt, 1, seen.away_mm, 2930);
    scene.sheet = test::sheet_at(test::middle_of(scene), 0.9);
    scene.blur_px = seen.blur_px;
    const auto found = locate_sheet(photograph(scene));
    ASSERT_TRUE(found) << seen.tilt << " degrees, blur " << seen.blur_px;
    EXPECT_GE(found->fiducials, 4) << seen.tilt;
    EXPECT_LT(worst_length_error(scene, ground_of(found->belief.view, scene.size)), seen.worst)
        << seen.tilt << " degrees, blur " << seen.blur_px;
  }
}

TEST(FindSheet, ACoveredPaperIsStillReadByItsFiducials) {
  GroundScene scene = close_scene();
  Photo photo = photograph(scene);
  const auto whole = locate_sheet(photo);
  ASSERT_TRUE(whole);
  // A shoe over one corner: the paper is no quadrilateral any more.
  const ImagePoint at = whole->outline[2];
  cv::circle(photo.rgb, {static_cast<int>(at.x), static_cast<int>(at.y)}, 40, cv::Scalar::all(30), cv::FILLED);
  const auto ground = find_sheet(photo);
  ASSERT_TRUE(ground);
  EXPECT_LT(worst_length_error(scene, *ground), 0.006);
}

TEST(FindSheet, AShadowAcrossTheSheetCostsLittle) {
  GroundScene scene = close_scene();
  const GroundPoint m = test::middle_of(scene) + GroundPoint{250, 150};
  scene.shadow = {
      {m + GroundPoint{-20, -900}, m + GroundPoint{900, -900}, m + GroundPoint{900, 900}, m + GroundPoint{40, 900}}};
  const auto ground = find_sheet(photograph(scene));
  ASSERT_TRUE(ground);
  EXPECT_LT(worst_length_error(scene, *ground), 0.006);
}

TEST(FindSheet, BurntOutPaperShrinksTheBlackButNotTheScale) {
  GroundScene scene = close_scene();
  scene.exposure = 2.2;
  scene.blur_px = 1.2;
  const auto ground = find_sheet(photograph(scene));
  ASSERT_TRUE(ground);
  EXPECT_LT(worst_length_error(scene, *ground), 0.005);
}

TEST(FindSheet, ACurledSheetIsLessCertain) {
  GroundScene scene = close_scene();
  const auto flat = find_sheet(photograph(scene));
  scene.sheet->curl_mm = 12;
  const auto curled = find_sheet(photograph(scene));
  ASSERT_TRUE(flat && curled);
  EXPECT_GT(curled->scale_error->value, flat->scale_error->value);
  EXPECT_LT(worst_length_error(scene, *curled), 4 * curled->scale_error->value);
}

TEST(FindSheet, ACoveredFiducialDoesNotBendThePlane) {
  GroundScene scene = close_scene();
  Photo photo = photograph(scene);
  const auto whole = locate_sheet(photo);
  ASSERT_TRUE(whole);
  // A stone on one corner of the sheet.
  const ImagePoint at = whole->outline[0] * 0.8 + whole->outline[2] * 0.2;
  cv::circle(photo.rgb, {static_cast<int>(at.x), static_cast<int>(at.y)}, 16, cv::Scalar::all(120), cv::FILLED);
  const auto ground = find_sheet(photo);
  ASSERT_TRUE(ground);
  EXPECT_LT(worst_length_error(scene, *ground), 0.006);
}

TEST(FindSheet, OneFiducialInViewStillGivesAScale) {
  GroundScene scene = close_scene();
  Photo photo = photograph(scene);
  const auto whole = locate_sheet(photo);
  ASSERT_TRUE(whole);
  // Everything but the sheet's first corner hidden under a board.
  const auto mix = [&](double u, double v) {
    const ImagePoint top = whole->outline[0] * (1 - u) + whole->outline[1] * u;
    const ImagePoint low = whole->outline[3] * (1 - u) + whole->outline[2] * u;
    const ImagePoint p = top * (1 - v) + low * v;
    return cv::Point(static_cast<int>(p.x), static_cast<int>(p.y));
  };
  const std::vector<std::vector<cv::Point>> board{
      {mix(0.47, -0.3), mix(1.3, -0.3), mix(1.3, 1.3), mix(-0.3, 1.3), mix(-0.3, 0.36), mix(0.47, 0.36)}};
  cv::fillPoly(photo.rgb, board, cv::Scalar(110, 90, 70));
  const auto one = locate_sheet(photo);
  ASSERT_TRUE(one);
  EXPECT_EQ(one->fiducials, 1);
  const auto ground = find_sheet(photo);
  EXPECT_GT(ground->scale_error->value, find_sheet(photograph(scene))->scale_error->value);
  EXPECT_LT(worst_length_error(scene, *ground), 4 * ground->scale_error->value);
}

TEST(FindSheet, AWrongFocalLengthIsNoticedAndGivenUp) {
  GroundScene scene = close_scene();
  Photo photo = photograph(scene);
  photo.focal_px = *photo.focal_px * 1.5;  // the picture was enlarged after the EXIF was written
  const auto ground = find_sheet(photo);
  ASSERT_TRUE(ground);
  EXPECT_LT(worst_length_error(scene, *ground), 0.03);
}

TEST(FindSheet, NothingInBarePavement) {
  GroundScene scene = close_scene();
  scene.sheet.reset();
  scene.texture = 0.5;
  EXPECT_FALSE(find_sheet(photograph(scene)));
}

TEST(FindSheet, NothingInATinyPicture) {
  Photo photo;
  photo.rgb = cv::Mat(1, 1, CV_8UC3, cv::Scalar::all(90));
  EXPECT_FALSE(find_sheet(photo));
}

// Stated errors against true ones. The photos know nothing of printers, whose 0.3 % the statement includes, so it is
// the ratio of lengths at right angles that is held to account.
TEST(FindSheet, StatesItsShapeErrorHonestly) {
  std::mt19937 random(5);
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  double squares = 0;
  constexpr int kPhotos = 14;
  for (int i = 0; i < kPhotos; ++i) {
    GroundScene scene;
    scene.size = {1344, 1008};
    scene.view = test::view_from(between(15, 60), between(-4, 4), between(1500, 2600), 980);
    scene.sheet =
        test::sheet_at(test::middle_of(scene) + GroundPoint{between(-200, 200), between(-100, 300)}, between(-3, 3));
    scene.sheet->curl_mm = between(0, 1.5);  // paper is never quite flat
    scene.bend = between(-0.008, 0.008);
    scene.blur_px = between(0.5, 1.0);
    scene.seed = static_cast<std::uint32_t>(i + 1);
    Photo photo = photograph(scene);
    photo.focal_px = *photo.focal_px * between(0.975, 1.025);
    const auto ground = find_sheet(photo);
    ASSERT_TRUE(ground) << i;
    const Ground truth = ground_of(scene.view, scene.size);
    const GroundPoint g = test::middle_of(scene), along = g * (200 / length(g)), across{-along.y, along.x};
    const auto measured = [&](GroundPoint half) {
      return length(ground->ground_from_image(truth.image_from_ground(g + half)) -
                    ground->ground_from_image(truth.image_from_ground(g - half)));
    };
    const double z = std::log(measured(along) / measured(across)) / ground->shape_error.value;
    squares += z * z;
  }
  const double rms = std::sqrt(squares / kPhotos);
  EXPECT_GT(rms, 0.15);
  EXPECT_LT(rms, 1.5);
}

}  // namespace
}  // namespace lotwear
