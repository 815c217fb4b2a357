#include "capture/colour.hpp"

#include <gmock/gmock.h>
#include <lcms2.h>

#include "support/photo_files.hpp"

namespace lotwear {
namespace {

using ::testing::HasSubstr;

const std::array<float, 9> kNone = {1, 0, 0, 0, 1, 0, 0, 0, 1};

// The published matrix from linear Display P3 to linear sRGB (as in W3C CSS Color 4's sample code, from memory).
constexpr std::array<double, 9> kP3ToSrgb = {1.2249, -0.2249, 0.0, -0.0421, 1.0421, 0.0, -0.0196, -0.0786, 1.0983};

void expect_p3(const ColourSpace& space) {
  for (std::size_t i = 0; i < 9; ++i)
    EXPECT_NEAR(static_cast<double>(space.to_srgb[i]), kP3ToSrgb[i], 6e-4) << i;
  EXPECT_NEAR(static_cast<double>(space.linear[128]), srgb_to_linear(128 / 255.0), 1e-4);
}

TEST(Colour, WithoutAWordIsSrgb) {
  const ColourReading reading = read_colour({}, false);
  EXPECT_EQ(reading.space.linear, srgb_space().linear);
  EXPECT_EQ(reading.space.to_srgb, kNone);
  EXPECT_FALSE(reading.advice);
}

TEST(Colour, DisplayP3ByProfileAndByPrimaries) {
  expect_p3(read_colour({.icc = test::display_p3_icc()}, false).space);
  expect_p3(read_colour({.primaries = kDisplayP3Primaries}, false).space);
}

TEST(Colour, SrgbProfileNeedsNoMatrix) {
  const ColourReading reading = read_colour({.icc = test::srgb_icc()}, false);
  EXPECT_EQ(reading.space.to_srgb, kNone);
}

TEST(Colour, ProfileWinsOverPrimaries) {
  expect_p3(read_colour({.icc = test::display_p3_icc(), .primaries = kAdobeRgbPrimaries, .gamma = 2.2}, false).space);
}

TEST(Colour, GammaOfAPngIsTaken) {
  const ColourReading reading = read_colour({.gamma = 1.8}, false);
  EXPECT_NEAR(static_cast<double>(reading.space.linear[100]), std::pow(100 / 255.0, 1.8), 1e-4);
  EXPECT_EQ(reading.space.to_srgb, kNone);
}

TEST(Colour, WhiteStaysWhiteInEverySpace) {
  for (const Primaries& primaries : {kDisplayP3Primaries, kAdobeRgbPrimaries, kBt2020Primaries}) {
    const ColourSpace space = read_colour({.primaries = primaries}, false).space;
    for (std::size_t row = 0; row < 9; row += 3) {
      EXPECT_NEAR(static_cast<double>(space.to_srgb[row] + space.to_srgb[row + 1] + space.to_srgb[row + 2]), 1, 1e-3);
    }
  }
}

/// A scanner's kind of profile: RGB through a table to Lab, no matrix.
test::FileBytes table_profile() {
  cmsHPROFILE profile = cmsCreateProfilePlaceholder(nullptr);
  cmsSetDeviceClass(profile, cmsSigInputClass);
  cmsSetColorSpace(profile, cmsSigRgbData);
  cmsSetPCS(profile, cmsSigLabData);
  cmsPipeline* pipeline = cmsPipelineAlloc(nullptr, 3, 3);
  cmsPipelineInsertStage(pipeline, cmsAT_BEGIN, cmsStageAllocCLut16bit(nullptr, 2, 3, 3, nullptr));
  cmsWriteTag(profile, cmsSigAToB0Tag, pipeline);
  cmsPipelineFree(pipeline);
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  test::FileBytes bytes(size);
  cmsSaveProfileToMem(profile, bytes.data(), &size);
  cmsCloseProfile(profile);
  return bytes;
}

TEST(Colour, TableProfileFallsBackWithAWord) {
  const ColourReading reading = read_colour({.icc = table_profile()}, false);
  EXPECT_EQ(reading.space.linear, srgb_space().linear);
  ASSERT_TRUE(reading.advice);
  EXPECT_THAT(*reading.advice, HasSubstr("not read"));
}

TEST(Colour, BrokenProfilesFallBackWithAWord) {
  test::FileBytes torn = test::display_p3_icc();
  torn.resize(torn.size() / 3);
  for (const ColourClaim& claim :
       {ColourClaim{.icc = torn}, ColourClaim{.icc = {1, 2, 3}}, ColourClaim{.torn_icc = true}}) {
    const ColourReading reading = read_colour(claim, false);
    EXPECT_EQ(reading.space.linear, srgb_space().linear);
    EXPECT_EQ(reading.space.to_srgb, kNone);
    ASSERT_TRUE(reading.advice);
    EXPECT_THAT(*reading.advice, HasSubstr("sRGB"));
  }
}

TEST(Colour, ImpossiblePrimariesFallBackWithAWord) {
  const Primaries line{{0.31, 0.33}, {0.2, 0.2}, {0.3, 0.3}, {0.4, 0.4}};
  const ColourReading reading = read_colour({.primaries = line}, false);
  EXPECT_EQ(reading.space.to_srgb, kNone);
  EXPECT_TRUE(reading.advice);
}

TEST(Colour, GreyProfileFitsAGreyFileOnly) {
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 2.2);
  const cmsCIExyY white{0.3127, 0.3290, 1};
  cmsHPROFILE profile = cmsCreateGrayProfile(&white, curve);
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  Bytes icc(size);
  cmsSaveProfileToMem(profile, icc.data(), &size);
  cmsCloseProfile(profile);
  cmsFreeToneCurve(curve);
  const ColourReading grey = read_colour({.icc = icc}, true);
  EXPECT_FALSE(grey.advice);
  EXPECT_NEAR(static_cast<double>(grey.space.linear[100]), std::pow(100 / 255.0, 2.2), 1e-3);
  EXPECT_TRUE(read_colour({.icc = icc}, false).advice);
}

TEST(Colour, EveryDamagedProfileGivesAUsableSpace) {
  const test::FileBytes whole = test::adobe_rgb_icc();
  cv::RNG random(3);
  for (int round = 0; round < 400; ++round) {
    test::FileBytes bytes = whole;
    for (int hit = 0; hit < 4; ++hit) {
      bytes[static_cast<std::size_t>(random.uniform(0, static_cast<int>(bytes.size())))] =
          static_cast<std::uint8_t>(random.uniform(0, 256));
    }
    const ColourSpace space = read_colour({.icc = bytes}, false).space;
    EXPECT_TRUE(std::is_sorted(space.linear.begin(), space.linear.end()));
    EXPECT_GT(space.linear[255], 0.9F);
    for (const float value : space.to_srgb)
      EXPECT_LE(std::abs(value), 4.0F);
  }
}

}  // namespace
}  // namespace lotwear
