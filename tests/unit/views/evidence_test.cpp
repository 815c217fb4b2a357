#include "views/evidence.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <limits>
#include <opencv2/imgcodecs.hpp>

#include "base/files.hpp"
#include "base/parallel.hpp"
#include "base/trouble.hpp"
#include "made_up.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;

fs::path scratch() {
  const auto* test = testing::UnitTest::GetInstance()->current_test_info();
  const fs::path folder =
      fs::temp_directory_path() / (std::string("lotwear-") + test->name() + std::to_string(::getpid()));
  fs::remove_all(folder);
  fs::create_directories(folder);
  return folder;
}

Photo even_photo(cv::Size size, cv::Scalar colour) {
  Photo photo;
  photo.rgb = cv::Mat(size, CV_8UC3, colour);
  photo.space = srgb_space();
  return photo;
}

ImageRing box(double left, double top, double right, double bottom) {
  return {{left, top}, {right, top}, {right, bottom}, {left, bottom}};
}

TEST(PhotoPicture, ShowsTheMarkingWithSurroundings) {
  const Photo photo = even_photo({2000, 1500}, {100, 100, 100});
  const cv::Mat picture = photo_picture(photo, {box(800, 600, 1200, 900)}, "M001");
  EXPECT_EQ(picture.size(), cv::Size(640, 480));  // 1.6 times the box, photo pixels as they are
}

TEST(PhotoPicture, LineIsLightAndDarkOnAnyGroundAndLeavesThePaintToBeSeen) {
  for (const int ground : {0, 128, 255}) {
    const Photo photo = even_photo({1200, 900}, cv::Scalar::all(ground));
    const cv::Mat picture = photo_picture(photo, {box(400, 300, 800, 600)}, "M001");
    const auto outline_of = [&](int x, int y) { return picture.at<cv::Vec3b>(y, x)[1]; };
    const int left = 120, middle = 240;  // the box's left edge in the picture; a row half way down
    int lightest = 0, darkest = 255, changed = 0;
    for (int x = left - 20; x < left + 150; ++x) {
      lightest = std::max<int>(lightest, outline_of(x, middle));
      darkest = std::min<int>(darkest, outline_of(x, middle));
      changed += std::abs(outline_of(x, middle) - ground) > 20;
    }
    EXPECT_GT(lightest, 180) << ground;
    EXPECT_LT(darkest, 60) << ground;
    EXPECT_LE(changed, 6) << ground;
  }
}

TEST(PhotoPicture, LineLiesOnTheOutlineWhateverTheReduction) {
  const Photo photo = even_photo({4032, 3024}, {90, 90, 90});
  for (const double size : {100.0, 300.0, 1000.0, 2400.0}) {
    const double left = 2016 - size / 2, top = 1512 - size / 2;
    const cv::Mat picture = photo_picture(photo, {box(left, top, left + size, top + size)}, "M001");
    EXPECT_LE(std::max(picture.cols, picture.rows), 1000);
    double sum = 0, weight = 0;  // centre of what differs from the ground, left half of the middle row
    for (int x = 0; x < picture.cols / 2; ++x) {
      const double off = std::abs(picture.at<cv::Vec3b>(picture.rows / 2, x)[1] - 90);
      sum += off * (x + 0.5), weight += off;
    }
    const double crop = std::max({1.6 * size, 160.0}), scale = picture.cols / crop;
    ASSERT_GT(weight, 0);
    EXPECT_NEAR(sum / weight / scale, (crop - size) / 2, std::max(1.0, 1.0 / scale)) << size;
  }
}

TEST(PhotoPicture, TakesOutlinesThatLeaveThePhoto) {
  const Photo photo = even_photo({300, 200}, {100, 100, 100});
  const double far = 1e12, nowhere = std::numeric_limits<double>::quiet_NaN();
  for (const ImageRing& ring : {box(-far, -far, far, far), box(500, 500, 900, 900), box(nowhere, 1, nowhere, 5),
                                box(10, 10, 10, 10), ImageRing{}}) {
    const cv::Mat picture = photo_picture(photo, {ring}, "M001");
    EXPECT_GT(picture.total(), 0U);
    EXPECT_LE(std::max(picture.cols, picture.rows), 1000);
  }
  EXPECT_GT(photo_picture(even_photo({1, 1}, {9, 9, 9}), {box(0, 0, 1, 1)}, "M001").total(), 0U);
}

// A photo whose profile swaps red and green: what looks green must come out green for a viewer that knows no profile.
TEST(PhotoPicture, ComesInSrgbWhateverTheProfile) {
  Photo photo = even_photo({400, 300}, {200, 60, 30});
  photo.space.to_srgb = {0, 1, 0, 1, 0, 0, 0, 0, 1};
  photo.space.name = "swapped";
  const cv::Mat picture = photo_picture(photo, {box(150, 100, 250, 200)}, "M001");
  const auto corner = picture.at<cv::Vec3b>(picture.rows - 1, picture.cols - 1);
  EXPECT_NEAR(corner[0], 60, 1);
  EXPECT_NEAR(corner[1], 200, 1);
  EXPECT_NEAR(corner[2], 30, 1);
}

TEST(PlanPicture, BarIsAsLongAsItSays) {
  LossMap map;
  map.plan = cv::Mat(400, 500, CV_8UC3, cv::Scalar(90, 90, 90));
  map.mm_per_pixel = 5;
  const cv::Mat picture = plan_picture(map, PlanScale::true_millimetres);
  ASSERT_EQ(picture.cols, 500);
  // 40 % of 2500 mm holds 3 ft (914.4 mm: 182.9 px) and 1 m (200 px); the bars' rows lie 14 and 35 px under the plan.
  const auto dark_from_left = [&](int y) {
    int x = 10;
    while (picture.at<cv::Vec3b>(y, x)[0] < 60)
      ++x;
    return x - 10;
  };
  EXPECT_EQ(dark_from_left(400 + 14), 183);
  EXPECT_EQ(dark_from_left(400 + 35), 200);
}

TEST(PlanPicture, HasNoBarWithoutScale) {
  LossMap map;
  map.plan = cv::Mat(400, 500, CV_8UC3, cv::Scalar(90, 90, 90));
  map.mm_per_pixel = 5;
  const cv::Mat picture = plan_picture(map, PlanScale::nominal);
  EXPECT_LT(picture.rows, plan_picture(map, PlanScale::true_millimetres).rows);
  cv::Mat strip = picture(cv::Rect(300, 400, 200, picture.rows - 400));
  EXPECT_EQ(cv::countNonZero(strip.reshape(1) < 200), 0);
}

TEST(PlanPicture, HasABarOnlyWhereLengthsAreKnown) {
  Ground ground;
  EXPECT_EQ(plan_scale(ground), PlanScale::nominal);
  ground.scale_error = Fraction{0.17};
  EXPECT_EQ(plan_scale(ground), PlanScale::nominal);
  ground.scale_error = Fraction{0.03};
  EXPECT_EQ(plan_scale(ground), PlanScale::true_millimetres);
}

TEST(PlanPicture, StaysWithinItsSize) {
  for (const cv::Size size : {cv::Size(1, 1), {3, 900}, {5000, 200}, {40, 40}, {2000, 3000}}) {
    LossMap map;
    map.plan = cv::Mat(size, CV_8UC3, cv::Scalar(90, 90, 90));
    const cv::Mat picture = plan_picture(map, PlanScale::true_millimetres);
    EXPECT_LE(std::max(picture.cols, picture.rows), 960) << size;
    EXPECT_GE(picture.cols, 200) << size;
  }
}

/// Share of pixels drawn in the fill or the pattern of a spot, of all pixels drawn as some spot. Key swatches are left
/// out.
double drawn_share(const IndexedPicture& picture, const cv::Rect& map, Spot spot) {
  int of_spot = 0, of_any = 0;
  for (int y = map.y; y < map.y + map.height; ++y) {
    for (int x = map.x; x < map.x + map.width; ++x) {
      const int index = picture.index.at<unsigned char>(y, x);
      if (index < 64) continue;
      ++of_any;
      of_spot += kKeySpots.at(static_cast<std::size_t>(index - 64) / 2) == spot;
    }
  }
  return of_any == 0 ? 0 : static_cast<double>(of_spot) / of_any;
}

TEST(LossPicture, ShowsEveryCauseInItsTrueShare) {
  for (const cv::Size size : {cv::Size(240, 600), {700, 1500}}) {
    const LossMap map = made_up::loss_map(size, 5, 0.15, 0.3, true, {230, 230, 225});
    const IndexedPicture picture = loss_picture(map);
    const double scale = std::min(1.0, 1.0 / std::ceil(size.height / 760.0));
    const cv::Rect drawn(0, 0, static_cast<int>(size.width * scale), static_cast<int>(size.height * scale));
    const double all = cv::countNonZero(map.what);
    for (const Spot spot : kKeySpots) {
      const double share = cv::countNonZero(map.what == static_cast<int>(spot)) / all;
      EXPECT_NEAR(drawn_share(picture, drawn, spot), share, scale < 1 ? 0.01 : 1e-9) << key_words(spot) << size;
    }
  }
}

TEST(LossPicture, KeyNamesWhatOccursAndNothingElse) {
  LossMap map = made_up::loss_map({240, 600}, 5, 0, 0, false, {230, 230, 225});
  const IndexedPicture with_crack = loss_picture(map);
  const cv::Rect key(240, 0, with_crack.index.cols - 240, with_crack.index.rows);
  EXPECT_GT(drawn_share(with_crack, key, Spot::cracked), 0);
  EXPECT_EQ(drawn_share(with_crack, key, Spot::flaked), 0);
  EXPECT_EQ(drawn_share(with_crack, key, Spot::older_coat), 0);
  map.what.setTo(static_cast<int>(Spot::older_coat), map.what == static_cast<int>(Spot::cracked));
  const IndexedPicture with_coat = loss_picture(map);
  EXPECT_EQ(drawn_share(with_coat, {240, 0, with_coat.index.cols - 240, with_coat.index.rows}, Spot::cracked), 0);
  EXPECT_GT(drawn_share(with_coat, {240, 0, with_coat.index.cols - 240, with_coat.index.rows}, Spot::older_coat), 0);
}

TEST(LossPicture, TakesAnyMap) {
  for (const cv::Size size : {cv::Size(1, 1), {4000, 3}, {3, 4000}}) {
    LossMap map;
    map.plan = cv::Mat(size, CV_8UC3, cv::Scalar(90, 90, 90));
    map.what = cv::Mat(size, CV_8U, cv::Scalar(255));  // no Spot has this number
    const IndexedPicture picture = loss_picture(map);
    EXPECT_FALSE(png_bytes(picture).empty());
  }
  EXPECT_THROW(loss_picture(LossMap{}), Broken);
}

TEST(LossPicture, PngHoldsThePicture) {
  const IndexedPicture picture = loss_picture(made_up::loss_map({240, 600}, 5, 0.1, 0.2, true, {230, 200, 60}));
  const std::string bytes = png_bytes(picture);
  const cv::Mat read = cv::imdecode(std::vector<unsigned char>(bytes.begin(), bytes.end()), cv::IMREAD_COLOR);
  ASSERT_EQ(read.size(), picture.index.size());
  int wrong = 0;
  for (int y = 0; y < read.rows; ++y) {
    for (int x = 0; x < read.cols; ++x) {
      const Ink ink = picture.inks[picture.index.at<unsigned char>(y, x)];
      const auto p = read.at<cv::Vec3b>(y, x);
      wrong += p[2] != ink.r || p[1] != ink.g || p[0] != ink.b;
    }
  }
  EXPECT_EQ(wrong, 0);
}

TEST(WriteEvidence, WritesThreePicturesThatCanBeRead) {
  const fs::path folder = scratch();
  const LossMap map = made_up::loss_map({240, 600}, 5, 0.1, 0.2, true, {230, 200, 60});
  const auto scene = made_up::photo_of(map, {1600, 1200}, 8);
  const EvidenceFiles files = write_evidence(scene.photo, scene.outline, map, "M001", folder);
  EXPECT_EQ(files.photo, "evidence/M001-photo.jpg");
  EXPECT_EQ(files.plan, "evidence/M001-plan.jpg");
  EXPECT_EQ(files.loss, "evidence/M001-loss.png");
  for (const std::string& name : {files.photo, files.plan, files.loss}) {
    EXPECT_FALSE(cv::imread((folder / name).string()).empty()) << name;
  }
  fs::remove_all(folder);
}

TEST(WriteEvidence, GivesTheSameBytesOnAnyThread) {
  const fs::path folder = scratch();
  const LossMap map = made_up::loss_map({200, 500}, 5, 0.1, 0.2, true, {230, 200, 60});
  const auto scene = made_up::photo_of(map, {1000, 800}, 8);
  parallel_for(6, 6, [&](std::size_t i) {
    write_evidence(scene.photo, scene.outline, map, "M001", folder / std::to_string(i), PlanScale::true_millimetres);
  });
  for (const char* name : {"M001-photo.jpg", "M001-plan.jpg", "M001-loss.png"}) {
    const std::string first = read_file(folder / "0" / "evidence" / name);
    for (const char* other : {"1", "2", "3", "4", "5"})
      EXPECT_EQ(read_file(folder / other / "evidence" / name), first);
  }
  fs::remove_all(folder);
}

TEST(WriteEvidence, RefusesAnIdThatLeavesTheFolder) {
  const LossMap map = made_up::loss_map({40, 80}, 5, 0, 0, false, {230, 200, 60});
  const Photo photo = even_photo({100, 100}, {90, 90, 90});
  for (const char* id : {"", "../M1", "a/b", "M 1"}) {
    EXPECT_THROW(write_evidence(photo, {box(10, 10, 50, 50)}, map, id, scratch()), Broken) << id;
  }
}

TEST(WriteEvidence, SaysWhichFolderCannotBeWritten) {
  const fs::path folder = scratch();
  write_file(folder / "survey", "a file where the folder should be");
  const LossMap map = made_up::loss_map({40, 80}, 5, 0, 0, false, {230, 200, 60});
  try {
    write_evidence(even_photo({100, 100}, {90, 90, 90}), {box(10, 10, 50, 50)}, map, "M001", folder / "survey");
    FAIL() << "written into a file";
  } catch (const Failure& failure) {
    EXPECT_THAT(failure.what(), testing::HasSubstr("survey/evidence"));
  }
  fs::remove_all(folder);
}

}  // namespace
}  // namespace lotwear
