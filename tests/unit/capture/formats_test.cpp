// Every kind of file that is read, by the picture that comes out of it.

#include <gmock/gmock.h>

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "base/parallel.hpp"
#include "capture/bytes.hpp"
#include "capture/decode.hpp"
#include "capture/photo.hpp"
#include "support/heic_grid.hpp"
#include "support/photo_files.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

/// Smooth colours with a corner that tells left from right and top from bottom.
cv::Mat picture(cv::Size size) {
  cv::Mat rgb(size, CV_8UC3);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      rgb.at<cv::Vec3b>(y, x) = cv::Vec3b(static_cast<std::uint8_t>(30 + 190 * x / size.width),
                                          static_cast<std::uint8_t>(30 + 190 * y / size.height), 90);
    }
  }
  rgb(cv::Rect(0, 0, size.width / 4, size.height / 5)) = cv::Scalar(220, 220, 220);
  return rgb;
}

double mean_difference(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() ? cv::norm(a, b, cv::NORM_L1) / static_cast<double>(3 * a.total()) : 1e9;
}

Photo read(const std::filesystem::path& file) {
  Result<Photo> photo = read_photo(file);
  EXPECT_TRUE(photo) << (photo ? "" : photo.problem().what);
  return photo ? *photo : Photo{};
}

// The digest of "abc": FIPS 180-4's example (from memory).
TEST(Sha256, OfThePublishedExample) {
  const Bytes abc = {'a', 'b', 'c'};
  EXPECT_EQ(sha256_hex(abc), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

TEST(Jpeg, IsReadWithAllItsFacts) {
  const test::ScratchFolder folder;
  test::JpegDetails details;
  details.icc = test::display_p3_icc();
  details.exif = test::exif_bytes({{"Exif.Photo.DateTimeOriginal", "2026:04:11 09:02:00"},
                                   {"Exif.Photo.FocalLengthIn35mmFilm", "26"},
                                   {"Exif.Image.Model", "Nine"}});
  const cv::Mat rgb = picture({400, 300});
  const test::FileBytes bytes = test::jpeg_bytes(rgb, details);
  const Photo photo = read(folder.put("walk/IMG_1.JPG", bytes));
  EXPECT_EQ(photo.file, "IMG_1.JPG");
  EXPECT_EQ(photo.sha256, sha256_hex(bytes));
  EXPECT_LT(mean_difference(photo.rgb, rgb), 1.5);
  EXPECT_EQ(photo.space.name, "Display P3");
  EXPECT_EQ(photo.taken, "2026-04-11T09:02:00");
  EXPECT_NEAR(photo.focal_px.value_or(0), 26 * 500 / 43.2666, 0.1);
  EXPECT_EQ(photo.camera, "Nine");
  EXPECT_FALSE(photo.grey);
}

TEST(Jpeg, SubsampledProgressiveAndRestartedAreTheSamePicture) {
  const cv::Mat rgb = picture({333, 222});
  test::JpegDetails half, progressive, restarts;
  half.full_chroma = false;
  progressive.progressive = true;
  restarts.restart_rows = 1;
  const test::ScratchFolder folder;
  for (const auto& details : {half, progressive, restarts}) {
    const Photo photo = read(folder.put("a.jpg", test::jpeg_bytes(rgb, details)));
    EXPECT_LT(mean_difference(photo.rgb, rgb), 2);
    EXPECT_THAT(photo.quality.advice, Not(Contains(HasSubstr("stray"))));
  }
}

TEST(Jpeg, WithoutItsEndMarkIsWhole) {
  test::FileBytes bytes = test::jpeg_bytes(picture({160, 120}));
  bytes.erase(bytes.end() - 2, bytes.end());
  const test::ScratchFolder folder;
  EXPECT_LT(mean_difference(read(folder.put("a.jpg", bytes)).rgb, picture({160, 120})), 1.5);
}

TEST(Jpeg, WithAFilmBehindItIsRead) {
  test::FileBytes bytes = test::jpeg_bytes(picture({160, 120}));
  bytes.insert(bytes.end(), 5000, 0x42);
  const test::ScratchFolder folder;
  EXPECT_LT(mean_difference(read(folder.put("a.jpg", bytes)).rgb, picture({160, 120})), 1.5);
}

TEST(Grey, IsNoticedInGreyFilesAndInColourFiles) {
  cv::Mat grey, rgb;
  cv::cvtColor(picture({160, 120}), grey, cv::COLOR_RGB2GRAY);
  cv::cvtColor(grey, rgb, cv::COLOR_GRAY2RGB);
  test::JpegDetails details;
  details.colours = JCS_GRAYSCALE;
  const test::ScratchFolder folder;
  EXPECT_TRUE(read(folder.put("a.jpg", test::jpeg_bytes(rgb, details))).grey);
  EXPECT_TRUE(read(folder.put("b.jpg", test::jpeg_bytes(rgb))).grey);
  EXPECT_TRUE(read(folder.put("c.png", test::png_bytes(rgb))).grey);
  rgb(cv::Rect(80, 100, 6, 6)) += cv::Scalar(20, 0, 0);
  EXPECT_FALSE(read(folder.put("d.png", test::png_bytes(rgb))).grey);
}

/// `value(x, y)` packed as PNG packs samples of that many bits.
std::vector<test::FileBytes> packed_rows(int bits, int samples_across, int height,
                                         const std::function<int(int, int)>& value) {
  std::vector<test::FileBytes> rows;
  for (int y = 0; y < height; ++y) {
    test::FileBytes row(static_cast<std::size_t>((samples_across * bits + 7) / 8), 0);
    for (int x = 0; x < samples_across; ++x) {
      const int sample = value(x, y);
      if (bits == 16) {
        row[static_cast<std::size_t>(2 * x)] = static_cast<std::uint8_t>(sample >> 8);
        row[static_cast<std::size_t>(2 * x + 1)] = static_cast<std::uint8_t>(sample & 255);
      } else {
        row[static_cast<std::size_t>(x * bits / 8)] |= static_cast<std::uint8_t>(sample << (8 - bits - x * bits % 8));
      }
    }
    rows.push_back(row);
  }
  return rows;
}

class PngBits : public ::testing::TestWithParam<int> {};

TEST_P(PngBits, GreyOfEveryDepthSpansBlackToWhite) {
  const int bits = GetParam(), top = (1 << bits) - 1;
  test::PngDetails details;
  details.bits = bits;
  details.colour_type = PNG_COLOR_TYPE_GRAY;
  const auto value = [&](int x, int /*y*/) { return x % 2 == 0 ? 0 : x % 4 == 1 ? top : top / 2; };
  const test::ScratchFolder folder;
  const Photo photo = read(folder.put("a.png", test::png_bytes(packed_rows(bits, 40, 33, value), 40, details)));
  ASSERT_EQ(photo.rgb.size(), cv::Size(40, 33));
  EXPECT_TRUE(photo.grey);
  EXPECT_EQ(photo.rgb.at<cv::Vec3b>(5, 2), cv::Vec3b(0, 0, 0));
  EXPECT_EQ(photo.rgb.at<cv::Vec3b>(5, 5), cv::Vec3b(255, 255, 255));
  EXPECT_NEAR(photo.rgb.at<cv::Vec3b>(5, 7)[1], 255.0 * (top / 2) / top, 0.6);
}
INSTANTIATE_TEST_SUITE_P(All, PngBits, ::testing::Values(1, 2, 4, 8, 16));

TEST(Png, SixteenBitColourKeepsItsUpperEight) {
  test::PngDetails details;
  details.bits = 16;
  const auto value = [](int sample, int y) {
    return (sample % 3 == 0 ? 0x1200 : sample % 3 == 1 ? 0x80FF : 0xFFFF) - y % 2;
  };
  const test::ScratchFolder folder;
  const Photo photo = read(folder.put("a.png", test::png_bytes(packed_rows(16, 3 * 50, 40, value), 50, details)));
  const cv::Vec3b pixel = photo.rgb.at<cv::Vec3b>(10, 10);
  EXPECT_NEAR(pixel[0], 255.0 * 0x1200 / 0xFFFF, 0.6);
  EXPECT_NEAR(pixel[1], 255.0 * 0x80FF / 0xFFFF, 0.6);
  EXPECT_EQ(pixel[2], 255);
}

TEST(Png, PaletteAlphaAndInterlacingAreResolved) {
  const cv::Mat rgb = picture({64, 48});
  const test::ScratchFolder folder;
  test::PngDetails palette;
  palette.bits = 4;
  palette.colour_type = PNG_COLOR_TYPE_PALETTE;
  palette.palette = {{10, 20, 30}, {200, 100, 50}};
  const auto value = [](int x, int y) { return (x + y) % 2; };
  const Photo coloured = read(folder.put("p.png", test::png_bytes(packed_rows(4, 64, 48, value), 64, palette)));
  EXPECT_EQ(coloured.rgb.at<cv::Vec3b>(0, 1), cv::Vec3b(200, 100, 50));

  test::PngDetails alpha;
  alpha.colour_type = PNG_COLOR_TYPE_RGB_ALPHA;
  const auto with_alpha = [&](int sample, int y) {
    return sample % 4 == 3 ? 7 : rgb.at<cv::Vec3b>(y, sample / 4)[sample % 4];
  };
  const Photo opaque = read(folder.put("a.png", test::png_bytes(packed_rows(8, 4 * 64, 48, with_alpha), 64, alpha)));
  EXPECT_EQ(mean_difference(opaque.rgb, rgb), 0);

  test::PngDetails interlaced;
  interlaced.interlaced = true;
  EXPECT_EQ(mean_difference(read(folder.put("i.png", test::png_bytes(rgb, interlaced))).rgb, rgb), 0);
}

TEST(Png, ColourChunksAreTaken) {
  const test::ScratchFolder folder;
  test::PngDetails details;
  details.gamma = 1.0;
  details.chromaticities = {0.3127, 0.3290, 0.680, 0.320, 0.265, 0.690, 0.150, 0.060};
  const Photo photo = read(folder.put("a.png", test::png_bytes(picture({64, 48}), details)));
  EXPECT_NEAR(static_cast<double>(photo.space.linear[128]), 128 / 255.0, 1e-3);
  EXPECT_NEAR(static_cast<double>(photo.space.to_srgb[0]), 1.2249, 1e-3);
  test::PngDetails usual;
  usual.gamma = 0.45455;
  EXPECT_EQ(read(folder.put("b.png", test::png_bytes(picture({64, 48}), usual))).space.linear, srgb_space().linear);
  test::PngDetails profiled;
  profiled.icc = test::adobe_rgb_icc();
  EXPECT_EQ(read(folder.put("c.png", test::png_bytes(picture({64, 48}), profiled))).space.name, "Adobe RGB (1998)");
}

TEST(Content, DecidesNotTheEnding) {
  const test::ScratchFolder folder;
  EXPECT_EQ(mean_difference(read(folder.put("a.jpg", test::png_bytes(picture({64, 48})))).rgb, picture({64, 48})), 0);
}

TEST(AdobeRgb, IsTakenFromTheCamerasMark) {
  const test::ScratchFolder folder;
  test::JpegDetails details;
  details.exif = test::exif_bytes({{"Exif.Iop.InteroperabilityIndex", "R03"}, {"Exif.Photo.ColorSpace", "65535"}});
  const Photo photo = read(folder.put("a.jpg", test::jpeg_bytes(picture({64, 48}), details)));
  EXPECT_NEAR(static_cast<double>(photo.space.linear[100]), std::pow(100 / 255.0, 563.0 / 256), 1e-3);
  EXPECT_GT(photo.space.to_srgb[0], 1.3F);
}

TEST(Heic, IsReadWithAllItsFacts) {
  test::FileDetails details;
  details.icc = test::display_p3_icc();
  details.exif =
      test::exif_bytes({{"Exif.Photo.DateTimeOriginal", "2026:04:11 09:02:00"}, {"Exif.Image.Orientation", "6"}});
  const cv::Mat rgb = picture({320, 240});
  const auto bytes = test::heic_bytes(rgb, details);
  if (!bytes) GTEST_SKIP() << "this libheif has no HEVC encoder to make a file with";
  const test::ScratchFolder folder;
  const Photo photo = read(folder.put("IMG_2.HEIC", *bytes));
  // The container says nothing about turning; EXIF's orientation must not be applied (ISO/IEC 23008-12: only irot and
  // imir).
  EXPECT_LT(mean_difference(photo.rgb, rgb), 3);
  EXPECT_EQ(photo.space.name, "Display P3");
  EXPECT_EQ(photo.taken, "2026-04-11T09:02:00");
}

TEST(Heic, CodePointsOfTheContainerAreTaken) {
  heif_color_profile_nclx* nclx = heif_nclx_color_profile_alloc();
  nclx->color_primaries = heif_color_primaries_SMPTE_EG_432_1;
  nclx->transfer_characteristics = heif_transfer_characteristic_IEC_61966_2_1;
  nclx->matrix_coefficients = heif_matrix_coefficients_ITU_R_BT_601_6;
  nclx->full_range_flag = 1;
  const auto bytes = test::heic_bytes(picture({128, 96}), {}, 95, nclx);
  heif_nclx_color_profile_free(nclx);
  if (!bytes) GTEST_SKIP() << "this libheif has no HEVC encoder to make a file with";
  const test::ScratchFolder folder;
  EXPECT_NEAR(static_cast<double>(read(folder.put("a.heic", *bytes)).space.to_srgb[0]), 1.2249, 1e-3);
}

TEST(Heic, TilesOfAPhoneArePutTogetherAndTurned) {
  test::FileDetails details;
  details.icc = test::display_p3_icc();
  details.exif = test::exif_bytes({{"Exif.Image.Orientation", "6"}, {"Exif.Photo.FocalLengthIn35mmFilm", "26"}});
  const cv::Mat rgb = picture({300, 200});
  const auto bytes = test::heic_grid_bytes(rgb, 128, 3, details);
  if (!bytes) GTEST_SKIP() << "this libheif has no HEVC encoder to make a file with";
  const test::ScratchFolder folder;
  const Photo photo = read(folder.put("IMG_3.HEIC", *bytes));
  cv::Mat upright;
  cv::rotate(rgb, upright, cv::ROTATE_90_CLOCKWISE);  // three quarter turns against the clock
  EXPECT_LT(mean_difference(photo.rgb, upright), 3);
  EXPECT_EQ(photo.space.name, "Display P3");
  EXPECT_NEAR(photo.focal_px.value_or(0), 26 * std::hypot(300, 200) / 43.2666, 0.1);
}

TEST(Photos, AreTheSameOnManyThreads) {
  const test::ScratchFolder folder;
  std::vector<std::filesystem::path> files;
  for (int i = 0; i < 12; ++i) {
    test::JpegDetails details;
    details.icc = i % 2 == 0 ? test::display_p3_icc() : test::FileBytes{};
    details.exif = test::exif_bytes({{"Exif.Image.Orientation", std::to_string(1 + i % 8)}});
    files.push_back(folder.put(std::to_string(i) + ".jpg", test::jpeg_bytes(picture({200 + i, 150}), details)));
  }
  const auto read_all = [&](unsigned threads) {
    std::vector<Photo> photos(files.size());
    parallel_for(files.size(), threads, [&](std::size_t i) { photos[i] = *read_photo(files[i]); });
    return photos;
  };
  const std::vector<Photo> one = read_all(1), eight = read_all(8);
  for (std::size_t i = 0; i < files.size(); ++i) {
    EXPECT_EQ(cv::norm(one[i].rgb, eight[i].rgb, cv::NORM_INF), 0);
    EXPECT_EQ(one[i].sha256, eight[i].sha256);
    EXPECT_EQ(one[i].quality.blur_px, eight[i].quality.blur_px);
    EXPECT_EQ(one[i].space.to_srgb, eight[i].space.to_srgb);
  }
}

}  // namespace
}  // namespace lotwear
