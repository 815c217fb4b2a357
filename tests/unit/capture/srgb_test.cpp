#include <gtest/gtest.h>
#include <lcms2.h>

#include <opencv2/core.hpp>

#include "capture/colour.hpp"
#include "capture/photo.hpp"
#include "support/photo_files.hpp"

namespace lotwear {
namespace {

// IEC 61966-2-1: decode v/12.92 up to .04045, ((v + .055) / 1.055)^2.4 above; encode(0.18) = 0.4613561.
TEST(Srgb, MatchesThePublishedTransfer) {
  EXPECT_NEAR(linear_to_srgb(0.18), 0.4613561, 5e-8);
  EXPECT_DOUBLE_EQ(srgb_to_linear(0.04045), 0.04045 / 12.92);
  EXPECT_DOUBLE_EQ(linear_to_srgb(0.0031308), 12.92 * 0.0031308);
  EXPECT_DOUBLE_EQ(srgb_to_linear(0), 0);
  EXPECT_DOUBLE_EQ(srgb_to_linear(1), 1);
  EXPECT_DOUBLE_EQ(linear_to_srgb(1), 1);
}

TEST(Srgb, HasNoStepAtItsBreak) {
  EXPECT_NEAR(srgb_to_linear(0.04045), srgb_to_linear(0.04045 + 1e-9), 1e-7);
  EXPECT_NEAR(linear_to_srgb(0.0031308), linear_to_srgb(0.0031308 + 1e-9), 1e-7);
}

TEST(Srgb, ThereAndBackAgain) {
  const ColourSpace space = srgb_space();
  for (int value = 0; value < 256; ++value) {
    const auto linear = static_cast<double>(space.linear[static_cast<std::size_t>(value)]);
    EXPECT_NEAR(linear_to_srgb(linear) * 255, value, 1e-4);
  }
}

Photo photo_of(const cv::Mat& rgb, const ColourSpace& space) {
  Photo photo;
  photo.rgb = rgb;
  photo.space = space;
  return photo;
}

cv::Mat all_sorts(cv::Size size) {
  cv::Mat rgb(size, CV_8UC3);
  cv::RNG(7).fill(rgb, cv::RNG::UNIFORM, 0, 256);
  return rgb;
}

TEST(LinearRgb, IsTheTransferOfEachChannel) {
  const Photo photo = photo_of(all_sorts({31, 17}), srgb_space());
  const cv::Mat linear = linear_rgb(photo, {0, 0, 31, 17});
  ASSERT_EQ(linear.type(), CV_32FC3);
  for (int y = 0; y < 17; ++y) {
    for (int x = 0; x < 31; ++x) {
      for (int c = 0; c < 3; ++c) {
        EXPECT_NEAR(static_cast<double>(linear.at<cv::Vec3f>(y, x)[c]),
                    srgb_to_linear(photo.rgb.at<cv::Vec3b>(y, x)[c] / 255.0), 1e-6);
      }
    }
  }
}

TEST(LinearRgb, OfAPartIsThePartOfTheWhole) {
  const ColourSpace p3 = read_colour({.icc = test::display_p3_icc()}, false).space;
  const Photo photo = photo_of(all_sorts({40, 30}), p3);
  const cv::Rect part(7, 5, 11, 13);
  const cv::Mat whole = linear_rgb(photo, {0, 0, 40, 30});
  EXPECT_EQ(cv::norm(linear_rgb(photo, part), whole(part), cv::NORM_INF), 0);
  EXPECT_THROW(linear_rgb(photo, {30, 20, 11, 11}), Broken);
  EXPECT_THROW(linear_rgb(photo, {3, 3, 0, 4}), Broken);
}

/// lcms2's own way from the profile to linear light in sRGB primaries.
cv::Mat by_lcms(const cv::Mat& rgb, const test::FileBytes& icc) {
  cmsHPROFILE from = cmsOpenProfileFromMem(icc.data(), static_cast<cmsUInt32Number>(icc.size()));
  const test::FileBytes linear_icc = test::icc_bytes({0.3127, 0.3290, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06}, 1.0);
  cmsHPROFILE to = cmsOpenProfileFromMem(linear_icc.data(), static_cast<cmsUInt32Number>(linear_icc.size()));
  cmsHTRANSFORM transform = cmsCreateTransform(from, TYPE_RGB_FLT, to, TYPE_RGB_FLT, INTENT_RELATIVE_COLORIMETRIC,
                                               cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE);
  cv::Mat encoded, out(rgb.size(), CV_32FC3);
  rgb.convertTo(encoded, CV_32FC3, 1 / 255.0);
  cmsDoTransform(transform, encoded.data, out.data, static_cast<cmsUInt32Number>(rgb.total()));
  cmsDeleteTransform(transform);
  cmsCloseProfile(from);
  cmsCloseProfile(to);
  return out;
}

struct NamedProfile {
  const char* name;
  test::FileBytes icc;
};
class ProfileAgainstLcms : public ::testing::TestWithParam<int> {
 protected:
  static NamedProfile profile(int number) {
    if (number == 0) return {"Display P3", test::display_p3_icc()};
    if (number == 1) return {"Adobe RGB (1998)", test::adobe_rgb_icc()};
    return {"sRGB", test::srgb_icc()};
  }
};

TEST_P(ProfileAgainstLcms, GivesTheSameLinearLight) {
  const auto [name, icc] = profile(GetParam());
  const ColourReading reading = read_colour({.icc = icc}, false);
  EXPECT_FALSE(reading.advice);
  EXPECT_EQ(reading.space.name, name);
  const Photo photo = photo_of(all_sorts({64, 64}), reading.space);
  const cv::Mat ours = linear_rgb(photo, {0, 0, 64, 64}), theirs = by_lcms(photo.rgb, icc);
  EXPECT_LT(cv::norm(ours, theirs, cv::NORM_INF), 1e-3);
}
INSTANTIATE_TEST_SUITE_P(Profiles, ProfileAgainstLcms, ::testing::Values(0, 1, 2));

}  // namespace
}  // namespace lotwear
