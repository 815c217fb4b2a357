#include "capture/orientation.hpp"

#include <gtest/gtest.h>

#include <opencv2/core.hpp>

#include "base/trouble.hpp"
#include "capture/photo.hpp"
#include "support/photo_files.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

/// Where stored pixel (x, y) belongs, by EXIF 2.32's words: the stored 0th row is the visual top, top, bottom, bottom,
/// left, right, right, left side, and the stored 0th column the left, right, right, left, top, top, bottom, bottom
/// side.
cv::Point upright_place(int x, int y, cv::Size stored, int orientation) {
  const int w = stored.width - 1, h = stored.height - 1;
  switch (orientation) {
    case 1:
      return {x, y};
    case 2:
      return {w - x, y};
    case 3:
      return {w - x, h - y};
    case 4:
      return {x, h - y};
    case 5:
      return {y, x};
    case 6:
      return {h - y, x};
    case 7:
      return {h - y, w - x};
    default:
      return {y, w - x};
  }
}

cv::Mat all_sorts(cv::Size size) {
  cv::Mat rgb(size, CV_8UC3);
  cv::RNG(11).fill(rgb, cv::RNG::UNIFORM, 0, 256);
  return rgb;
}

class Orientation : public ::testing::TestWithParam<int> {};

TEST_P(Orientation, PutsEveryPixelInItsPlace) {
  for (const cv::Size size : {cv::Size(37, 70), cv::Size(1, 5), cv::Size(5, 1), cv::Size(130, 33)}) {
    const cv::Mat stored = all_sorts(size);
    cv::Mat upright(upright_size(size, GetParam()), CV_8UC3, cv::Scalar::all(0));
    place_rows(stored.data, stored.step[0], 0, stored.rows, size, GetParam(), upright);
    for (int y = 0; y < size.height; ++y) {
      for (int x = 0; x < size.width; ++x) {
        EXPECT_EQ(upright.at<cv::Vec3b>(upright_place(x, y, size, GetParam())), stored.at<cv::Vec3b>(y, x));
      }
    }
  }
}

TEST_P(Orientation, BandsMakeTheSamePicture) {
  const cv::Size size(53, 41);
  const cv::Mat stored = all_sorts(size);
  cv::Mat whole(upright_size(size, GetParam()), CV_8UC3), banded = whole.clone();
  place_rows(stored.data, stored.step[0], 0, stored.rows, size, GetParam(), whole);
  for (int first = 0; first < stored.rows; first += 16) {
    // A copy of its own, so that reading past the band is an error that a sanitizer sees.
    const cv::Mat band = stored.rowRange(first, std::min(first + 16, stored.rows)).clone();
    place_rows(band.data, band.step[0], first, band.rows, size, GetParam(), banded);
  }
  EXPECT_EQ(cv::norm(whole, banded, cv::NORM_INF), 0);
}

TEST_P(Orientation, IsAppliedToPhotos) {
  const test::ScratchFolder folder;
  cv::Mat stored(48, 80, CV_8UC3, cv::Scalar(40, 40, 40));
  stored(cv::Rect(8, 8, 16, 16)) = cv::Scalar(250, 20, 20);
  const cv::Point spot = upright_place(16, 16, stored.size(), GetParam());
  const test::FileBytes exif = test::exif_bytes({{"Exif.Image.Orientation", std::to_string(GetParam())}});
  test::JpegDetails jpeg;
  jpeg.exif = exif;
  test::PngDetails png;
  png.exif = exif;
  for (const auto& file :
       {folder.put("a.jpg", test::jpeg_bytes(stored, jpeg)), folder.put("a.png", test::png_bytes(stored, png))}) {
    const Result<Photo> photo = read_photo(file);
    ASSERT_TRUE(photo) << photo.problem().what;
    EXPECT_EQ(photo->rgb.size(), upright_size(stored.size(), GetParam()));
    EXPECT_NEAR(photo->rgb.at<cv::Vec3b>(spot)[0], 250, 6);
    EXPECT_NEAR(cv::sum(photo->rgb)[0], cv::sum(stored)[0], 0.01 * cv::sum(stored)[0]);
  }
}
INSTANTIATE_TEST_SUITE_P(All, Orientation, ::testing::Range(1, 9));

TEST(OrientationNine, IsOurMistakeWhenItGetsHere) {
  const cv::Mat stored = all_sorts({4, 4});
  cv::Mat upright = stored.clone();
  EXPECT_THROW(place_rows(stored.data, stored.step[0], 0, 4, {4, 4}, 9, upright), Broken);
}

}  // namespace
}  // namespace lotwear
