// Whatever lies in a photo folder: one clear sentence, or a photo; never a crash.

#include <gmock/gmock.h>

#include <opencv2/core.hpp>

#include "capture/photo.hpp"
#include "support/heic_grid.hpp"
#include "support/matchers.hpp"
#include "support/photo_files.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

using test::IsProblem;
using ::testing::Contains;
using ::testing::HasSubstr;

cv::Mat noisy(cv::Size size) {
  cv::Mat rgb(size, CV_8UC3);
  cv::RNG(2).fill(rgb, cv::RNG::NORMAL, 120, 40);
  return rgb;
}

test::FileBytes cut(const test::FileBytes& bytes, double share) {
  const auto kept = static_cast<std::ptrdiff_t>(share * static_cast<double>(bytes.size()));
  return {bytes.begin(), bytes.begin() + kept};
}

TEST(BadInput, MissingAndDanglingAndFolder) {
  const test::ScratchFolder folder;
  std::filesystem::create_symlink(folder / "gone.jpg", folder / "link.jpg");
  std::filesystem::create_directory(folder / "album.jpg");
  EXPECT_THAT(read_photo(folder / "none.jpg"), IsProblem("none.jpg", "no such file"));
  EXPECT_THAT(read_photo(folder / "link.jpg"), IsProblem("link.jpg", "link"));
  EXPECT_THAT(read_photo(folder / "album.jpg"), IsProblem("album.jpg", "folder"));
}

TEST(BadInput, EmptyAndNotAPicture) {
  const test::ScratchFolder folder;
  EXPECT_THAT(read_photo(folder.put("a.jpg", std::string())), IsProblem("a.jpg", "empty"));
  EXPECT_THAT(read_photo(folder.put("b.jpg", std::string("dear diary"))), IsProblem("b.jpg", "not a picture"));
  EXPECT_THAT(read_photo(folder.put("c.jpg", std::string("x"))), IsProblem("c.jpg", "not a picture"));
  EXPECT_THAT(read_photo(folder.put("d.jpg", std::string("RIFF\x10\0\0\0WEBPVP8 ", 16))), IsProblem("d.jpg", "WebP"));
  EXPECT_THAT(read_photo(folder.put("e.jpg", std::string("\0\0\0\x18"
                                                         "ftypqt  \0\0\0\0",
                                                         16))),
              IsProblem("e.jpg", "film"));
  EXPECT_THAT(read_photo(folder.put("f.jpg", std::string("\xFF\xD8\xFF"))), IsProblem("f.jpg", "damaged JPEG"));
}

TEST(BadInput, TornJpegSaysHowMuchIsThere) {
  const test::ScratchFolder folder;
  const test::FileBytes whole = test::jpeg_bytes(noisy({320, 640}));
  EXPECT_THAT(read_photo(folder.put("a.jpg", cut(whole, 0.5))), IsProblem("a.jpg", "torn file: only 4"));
  EXPECT_THAT(read_photo(folder.put("b.jpg", cut(whole, 0.98))), IsProblem("b.jpg", "torn file: only 9"));
  test::JpegDetails progressive;
  progressive.progressive = true;
  EXPECT_THAT(read_photo(folder.put("c.jpg", cut(test::jpeg_bytes(noisy({320, 640}), progressive), 0.7))),
              IsProblem("c.jpg", "torn file"));
}

TEST(BadInput, GarbledJpegIsTorn) {
  const test::ScratchFolder folder;
  test::FileBytes bytes = test::jpeg_bytes(noisy({320, 640}));
  std::fill(bytes.begin() + static_cast<std::ptrdiff_t>(bytes.size() / 2),
            bytes.begin() + static_cast<std::ptrdiff_t>(bytes.size() / 2 + 4000), std::uint8_t{0});
  EXPECT_THAT(read_photo(folder.put("a.jpg", bytes)), IsProblem("a.jpg", "torn file"));
}

TEST(BadInput, StrayBytesAreReadWithAWord) {
  const test::ScratchFolder folder;
  test::FileBytes bytes = test::jpeg_bytes(noisy({160, 160}));
  bytes.insert(bytes.end() - 2, 300, std::uint8_t{0x55});
  const Result<Photo> photo = read_photo(folder.put("a.jpg", bytes));
  ASSERT_TRUE(photo);
  EXPECT_THAT(photo->quality.advice, Contains(HasSubstr("stray bytes")));
}

TEST(BadInput, TornPngAndHeic) {
  const test::ScratchFolder folder;
  EXPECT_THAT(read_photo(folder.put("a.png", cut(test::png_bytes(noisy({200, 400})), 0.5))),
              IsProblem("a.png", "torn file: only"));
  test::FileBytes flipped = test::png_bytes(noisy({200, 200}));
  flipped[flipped.size() / 2] ^= 0x10;
  EXPECT_THAT(read_photo(folder.put("b.png", flipped)), IsProblem("b.png", "torn file"));
  const auto heic = test::heic_bytes(noisy({256, 256}));
  if (!heic) GTEST_SKIP() << "this libheif has no HEVC encoder to make a file with";
  EXPECT_THAT(read_photo(folder.put("c.heic", cut(*heic, 0.5))), IsProblem("c.heic", "HEIC"));
  EXPECT_THAT(read_photo(folder.put("d.heic", cut(*heic, 0.05))), IsProblem("d.heic", "HEIC"));
  const auto grid = test::heic_grid_bytes(noisy({300, 200}), 128, 0);
  EXPECT_THAT(read_photo(folder.put("e.heic", cut(*grid, 0.6))), IsProblem("e.heic", "HEIC"));
}

TEST(BadInput, OnePixelIsNoPhoto) {
  const test::ScratchFolder folder;
  EXPECT_THAT(read_photo(folder.put("a.jpg", test::jpeg_bytes(noisy({1, 1})))), IsProblem("a.jpg", "1 x 1"));
  EXPECT_THAT(read_photo(folder.put("a.png", test::png_bytes(noisy({1, 1})))), IsProblem("a.png", "1 x 1"));
}

TEST(BadInput, CmykSaysWhatToDo) {
  const test::ScratchFolder folder;
  cv::Mat inks(64, 64, CV_8UC4, cv::Scalar(10, 200, 100, 30));
  test::JpegDetails details;
  details.colours = JCS_CMYK;
  EXPECT_THAT(read_photo(folder.put("a.jpg", test::jpeg_bytes(inks, details))), IsProblem("a.jpg", "CMYK"));
  details.colours = JCS_YCCK;
  EXPECT_THAT(read_photo(folder.put("b.jpg", test::jpeg_bytes(inks, details))), IsProblem("b.jpg", "export it as RGB"));
}

TEST(BadInput, TooManyPixelsAreRefusedBeforeTheyAreStored) {
  const test::ScratchFolder folder;
  // A small file whose header promises 3.6 gigapixels: eleven gigabytes, had it been believed.
  test::FileBytes jpeg = test::jpeg_bytes(noisy({64, 64}));
  const std::array<std::uint8_t, 2> frame = {0xFF, 0xC0};
  const auto at = std::search(jpeg.begin(), jpeg.end(), frame.begin(), frame.end());
  ASSERT_NE(at, jpeg.end());
  for (int i = 5; i < 9; ++i)
    at[i] = i % 2 == 1 ? 0xEA : 0x60;
  EXPECT_THAT(read_photo(folder.put("a.jpg", jpeg)), IsProblem("a.jpg", "60000 x 60000"));
  CaptureSettings settings;
  settings.max_megapixels = 0.01;
  EXPECT_THAT(read_photo(folder.put("b.png", test::png_bytes(noisy({128, 96}))), settings),
              IsProblem("b.png", "megapixels"));
  const auto heic = test::heic_bytes(noisy({128, 96}));
  if (heic) {
    EXPECT_THAT(read_photo(folder.put("c.heic", *heic), settings), IsProblem("c.heic", "megapixels"));
  }
}

TEST(BadInput, TooManyBytesAreRefused) {
  const test::ScratchFolder folder;
  CaptureSettings settings;
  settings.max_bytes = 1000;
  EXPECT_THAT(read_photo(folder.put("a.jpg", test::jpeg_bytes(noisy({200, 200}))), settings), IsProblem("a.jpg", "MB"));
}

TEST(BadInput, AHundredMegapixelsAreRead) {
  const test::ScratchFolder folder;
  test::JpegDetails details;
  details.colours = JCS_GRAYSCALE;
  const cv::Mat even(9990, 10'010, CV_8UC1, cv::Scalar(90));
  const Result<Photo> photo = read_photo(folder.put("a.jpg", test::jpeg_bytes(even, details)));
  ASSERT_TRUE(photo) << photo.problem().what;
  EXPECT_EQ(photo->rgb.size(), cv::Size(10'010, 9990));
}

TEST(BadInput, EndlessScansAreCutShort) {
  const test::ScratchFolder folder;
  test::JpegDetails progressive;
  progressive.progressive = true;
  test::FileBytes bytes = test::jpeg_bytes(noisy({400, 400}), progressive);
  const std::array<std::uint8_t, 2> scan = {0xFF, 0xDA};
  const auto last = std::find_end(bytes.begin(), bytes.end(), scan.begin(), scan.end());
  const test::FileBytes again(last, bytes.end() - 2);
  bytes.erase(bytes.end() - 2, bytes.end());
  for (int i = 0; i < 300; ++i)
    bytes.insert(bytes.end(), again.begin(), again.end());
  EXPECT_THAT(read_photo(folder.put("a.jpg", bytes)), IsProblem("a.jpg", "scans"));
}

TEST(BadInput, LyingExifCostsOnlyItself) {
  const test::ScratchFolder folder;
  test::JpegDetails details;
  details.exif = test::exif_bytes({{"Exif.Image.Orientation", "9"},
                                   {"Exif.GPSInfo.GPSLatitude", "4000/1 0/1 0/1"},
                                   {"Exif.GPSInfo.GPSLongitude", "10/1 0/1 0/1"}});
  const Result<Photo> photo = read_photo(folder.put("a.jpg", test::jpeg_bytes(noisy({64, 48}), details)));
  ASSERT_TRUE(photo);
  EXPECT_EQ(photo->rgb.size(), cv::Size(64, 48));
  EXPECT_FALSE(photo->position);
  EXPECT_THAT(photo->quality.advice, Contains(HasSubstr("orientation")));
  EXPECT_THAT(photo->quality.advice, Contains(HasSubstr("position")));
}

TEST(BadInput, BrokenProfileCostsOnlyItself) {
  const test::ScratchFolder folder;
  test::JpegDetails details;
  details.icc = test::FileBytes(300, 7);
  const Result<Photo> photo = read_photo(folder.put("a.jpg", test::jpeg_bytes(noisy({64, 48}), details)));
  ASSERT_TRUE(photo);
  EXPECT_EQ(photo->space.linear, srgb_space().linear);
  EXPECT_THAT(photo->quality.advice, Contains(HasSubstr("colour profile")));
}

struct Damage {
  const char* name;
  test::FileBytes bytes;
};

TEST(BadInput, AnyDamageGivesAPhotoOrASentence) {
  const test::ScratchFolder folder;
  test::JpegDetails jpeg, progressive;
  jpeg.icc = test::display_p3_icc();
  jpeg.exif = test::exif_bytes({{"Exif.Image.Orientation", "6"}, {"Exif.Image.Model", "Nine"}});
  progressive.progressive = true;
  std::vector<Damage> files = {{"a.jpg", test::jpeg_bytes(noisy({96, 80}), jpeg)},
                               {"b.jpg", test::jpeg_bytes(noisy({96, 80}), progressive)},
                               {"c.png", test::png_bytes(noisy({96, 80}))}};
  if (auto heic = test::heic_grid_bytes(noisy({96, 80}), 64, 1)) files.push_back({"d.heic", *heic});
  cv::RNG random(9);
  int photos = 0, problems = 0;
  for (const auto& [name, whole] : files) {
    for (int round = 0; round < 150; ++round) {
      test::FileBytes bytes = whole;
      // Headers are where damage does the strangest things, so half of the hits land there.
      const int reach = static_cast<int>(round % 2 == 0 ? std::min<std::size_t>(700, bytes.size()) : bytes.size());
      for (int hit = 0; hit < 1 + round % 5; ++hit) {
        bytes[static_cast<std::size_t>(random.uniform(0, reach))] = static_cast<std::uint8_t>(random.uniform(0, 256));
      }
      if (round % 4 == 0) bytes = cut(bytes, random.uniform(0.0, 1.0));
      if (bytes.empty()) continue;
      const Result<Photo> photo = read_photo(folder.put(name, bytes));
      if (!photo) {
        EXPECT_FALSE(photo.problem().what.empty());
        EXPECT_EQ(photo.problem().file, name);
      }
      ++(photo ? photos : problems);
    }
  }
  EXPECT_GT(photos, 20);
  EXPECT_GT(problems, 100);
}

}  // namespace
}  // namespace lotwear
