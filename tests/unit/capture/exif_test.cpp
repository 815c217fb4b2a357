#include "capture/exif.hpp"

#include <gmock/gmock.h>

#include <cmath>

#include "support/photo_files.hpp"

namespace lotwear {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

ExifFacts facts_of(const test::ExifValues& values) { return read_exif(test::exif_bytes(values)); }

const test::ExifValues kPhone = {{"Exif.Image.Make", "Acme"},
                                 {"Exif.Image.Model", "Acme Nine"},
                                 {"Exif.Image.Orientation", "6"},
                                 {"Exif.Photo.DateTimeOriginal", "2026:04:11 09:02:00"},
                                 {"Exif.Photo.OffsetTimeOriginal", "-04:00"},
                                 {"Exif.Photo.FocalLengthIn35mmFilm", "26"},
                                 {"Exif.Photo.PixelXDimension", "4032"},
                                 {"Exif.Photo.PixelYDimension", "3024"},
                                 {"Exif.GPSInfo.GPSLatitudeRef", "N"},
                                 {"Exif.GPSInfo.GPSLatitude", "40/1 10/1 1200/100"},
                                 {"Exif.GPSInfo.GPSLongitudeRef", "W"},
                                 {"Exif.GPSInfo.GPSLongitude", "83/1 4/1 4800/100"},
                                 {"Exif.GPSInfo.GPSHPositioningError", "475/100"}};

test::ExifValues phone_but(const test::ExifValues& changes) {
  test::ExifValues values = kPhone;
  for (const auto& [key, value] : changes) {
    values.erase(key);
    if (!value.empty()) values[key] = value;
  }
  return values;
}

TEST(Exif, OfAPhoneIsRead) {
  const ExifFacts facts = facts_of(kPhone);
  EXPECT_EQ(facts.orientation, 6);
  EXPECT_EQ(facts.taken, "2026-04-11T09:02:00-04:00");
  ASSERT_TRUE(facts.position);
  EXPECT_NEAR(facts.position->lat, 40.17, 1e-9);
  EXPECT_NEAR(facts.position->lon, -83.08, 1e-9);
  EXPECT_EQ(facts.position->error_m, 4.75);
  EXPECT_EQ(facts.camera, "Acme Nine");
  EXPECT_THAT(facts.advice, IsEmpty());
}

TEST(Exif, OfNothingIsNothing) {
  const ExifFacts facts = read_exif({});
  EXPECT_EQ(facts.orientation, 1);
  EXPECT_FALSE(facts.taken);
  EXPECT_FALSE(facts.position);
  EXPECT_FALSE(focal_in_pixels(facts, {4000, 3000}));
  EXPECT_THAT(facts.advice, IsEmpty());
}

TEST(Exif, TimeWithoutOffsetIsLocalTime) {
  EXPECT_EQ(facts_of(phone_but({{"Exif.Photo.OffsetTimeOriginal", ""}})).taken, "2026-04-11T09:02:00");
  EXPECT_EQ(facts_of(phone_but({{"Exif.Photo.OffsetTimeOriginal", "summer"}})).taken, "2026-04-11T09:02:00");
  EXPECT_EQ(facts_of(phone_but({{"Exif.Photo.OffsetTimeOriginal", ""}, {"Exif.Photo.OffsetTime", "+05:30"}})).taken,
            "2026-04-11T09:02:00+05:30");
}

TEST(Exif, ImpossibleTimesAreNoTimes) {
  for (const char* time : {"0000:00:00 00:00:00", "    :  :     :  :  ", "2026:13:01 00:00:00", "2026:02:29 00:00:00",
                           "2026:04:11 24:00:00", "yesterday", "2026-04-11 09:02:00"}) {
    EXPECT_FALSE(facts_of(phone_but({{"Exif.Photo.DateTimeOriginal", time}})).taken) << time;
  }
  EXPECT_TRUE(facts_of(phone_but({{"Exif.Photo.DateTimeOriginal", "2024:02:29 00:00:00"}})).taken);
}

TEST(Exif, TimeOfTheLastChangeIsNoEvidence) {
  EXPECT_FALSE(facts_of({{"Exif.Image.DateTime", "2026:04:11 09:02:00"}}).taken);
}

TEST(Exif, SouthAndEastHaveTheirSigns) {
  const ExifFacts facts =
      facts_of(phone_but({{"Exif.GPSInfo.GPSLatitudeRef", "S"}, {"Exif.GPSInfo.GPSLongitudeRef", "E"}}));
  EXPECT_LT(facts.position->lat, 0);
  EXPECT_GT(facts.position->lon, 0);
}

TEST(Exif, PlacesOffTheEarthAreLeftOutWithAWord) {
  const ExifFacts facts = facts_of(phone_but({{"Exif.GPSInfo.GPSLatitude", "95/1 0/1 0/1"}}));
  EXPECT_FALSE(facts.position);
  EXPECT_THAT(facts.advice, ElementsAre(HasSubstr("position")));
}

TEST(Exif, UnknownPlacesAreNotTheGulfOfGuinea) {
  EXPECT_FALSE(
      facts_of(phone_but({{"Exif.GPSInfo.GPSLatitude", "0/1 0/1 0/1"}, {"Exif.GPSInfo.GPSLongitude", "0/1 0/1 0/1"}}))
          .position);
  EXPECT_FALSE(facts_of(phone_but({{"Exif.GPSInfo.GPSLatitude", "0/0 0/0 0/0"}})).position);
}

TEST(Exif, SenselessPositioningErrorIsNoError) {
  for (const char* error : {"0/1", "0/0", "4000000000/1"}) {
    const ExifFacts facts = facts_of(phone_but({{"Exif.GPSInfo.GPSHPositioningError", error}}));
    ASSERT_TRUE(facts.position);
    EXPECT_FALSE(facts.position->error_m) << error;
  }
}

TEST(Exif, OrientationNineIsTakenAsUprightWithAWord) {
  const ExifFacts facts = facts_of({{"Exif.Image.Orientation", "9"}});
  EXPECT_EQ(facts.orientation, 1);
  EXPECT_THAT(facts.advice, ElementsAre(HasSubstr("orientation")));
  EXPECT_THAT(facts_of({{"Exif.Image.Orientation", "0"}}).advice, IsEmpty());
}

TEST(Exif, CameraIsPlainText) {
  EXPECT_EQ(facts_of({{"Exif.Image.Make", "ACME"}, {"Exif.Image.Model", "Nine\xE9 <b>"}}).camera, "ACME Nine  <b>");
  EXPECT_EQ(facts_of({{"Exif.Image.Make", "ACME  "}}).camera, "ACME");
}

// 26 mm on a diagonal of 43.27 mm; the diagonal of 4032 x 3024 is 5040 pixels.
TEST(Focal, By35mmEquivalentAndDiagonal) {
  const ExifFacts facts = facts_of(kPhone);
  EXPECT_NEAR(*focal_in_pixels(facts, {4032, 3024}), 26 * 5040 / 43.2666, 0.1);
  EXPECT_NEAR(*focal_in_pixels(facts, {2016, 1512}), 26 * 2520 / 43.2666, 0.1);
}

TEST(Focal, CroppingKeepsTheLengthInPixels) {
  EXPECT_NEAR(*focal_in_pixels(facts_of(kPhone), {3000, 3000}), 26 * 5040 / 43.2666, 0.1);
}

TEST(Focal, ByFocalPlaneResolution) {
  // 18 mm on a sensor with 4000 pixels over 23.5 mm, written per inch, per centimetre and scaled down later.
  const test::ExifValues camera = {{"Exif.Photo.FocalLength", "18/1"},
                                   {"Exif.Photo.PixelXDimension", "4000"},
                                   {"Exif.Photo.PixelYDimension", "3000"}};
  test::ExifValues inch = camera, centimetre = camera;
  inch["Exif.Photo.FocalPlaneXResolution"] = "4323404/1000";
  inch["Exif.Photo.FocalPlaneResolutionUnit"] = "2";
  centimetre["Exif.Photo.FocalPlaneXResolution"] = "1702128/1000";
  centimetre["Exif.Photo.FocalPlaneResolutionUnit"] = "3";
  EXPECT_NEAR(*focal_in_pixels(facts_of(inch), {4000, 3000}), 18 * 4000 / 23.5, 0.1);
  EXPECT_NEAR(*focal_in_pixels(facts_of(centimetre), {4000, 3000}), 18 * 4000 / 23.5, 0.1);
  EXPECT_NEAR(*focal_in_pixels(facts_of(inch), {1000, 750}), 18 * 1000 / 23.5, 0.1);
}

TEST(Focal, UnknownWithoutTheSensor) {
  EXPECT_FALSE(focal_in_pixels(facts_of({{"Exif.Photo.FocalLength", "5/1"}}), {4000, 3000}));
  EXPECT_FALSE(focal_in_pixels(facts_of({{"Exif.Photo.FocalLengthIn35mmFilm", "0"}}), {4000, 3000}));
}

TEST(Focal, AbsurdLensesAreLies) {
  EXPECT_FALSE(focal_in_pixels(facts_of({{"Exif.Photo.FocalLengthIn35mmFilm", "1"}}), {4000, 3000}));
  EXPECT_FALSE(focal_in_pixels(facts_of({{"Exif.Photo.FocalLengthIn35mmFilm", "60000"}}), {4000, 3000}));
}

TEST(Exif, DamagedBlocksNeverHarm) {
  const test::FileBytes whole = test::exif_bytes(kPhone);
  cv::RNG random(5);
  for (int round = 0; round < 2000; ++round) {
    test::FileBytes bytes = whole;
    for (int hit = 0; hit < 1 + round % 8; ++hit) {
      bytes[static_cast<std::size_t>(random.uniform(0, static_cast<int>(bytes.size())))] =
          static_cast<std::uint8_t>(random.uniform(0, 256));
    }
    if (round % 3 == 0) bytes.resize(static_cast<std::size_t>(random.uniform(0, static_cast<int>(bytes.size()))));
    const ExifFacts facts = read_exif(bytes);
    EXPECT_TRUE(facts.orientation >= 1 && facts.orientation <= 8);
    EXPECT_TRUE(!facts.position || (std::abs(facts.position->lat) <= 90 && std::abs(facts.position->lon) <= 180));
    EXPECT_TRUE(!facts.taken || facts.taken->size() >= 19);
    const auto focal = focal_in_pixels(facts, {4032, 3024});
    EXPECT_TRUE(!focal || (*focal > 500 && *focal < 100'000));
  }
}

}  // namespace
}  // namespace lotwear
