// A folder as it comes off a phone, a mail and a careless hand: what cannot be used costs one line, the rest is kept.

#include <gmock/gmock.h>

#include <map>

#include "support/photo_files.hpp"
#include "support/rendered_photo.hpp"
#include "support/run_program.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using ::testing::SizeIs;

std::vector<std::string> problems_of(const Survey& survey, const std::string& file) {
  std::vector<std::string> found;
  for (const Problem& problem : survey.problems) {
    if (problem.file == file) found.push_back(problem.what);
  }
  return found;
}

/// Says that it is 60,000 pixels wide and high: 10.8 GB, had it been believed.
test::FileBytes boasting_jpeg() {
  test::FileBytes jpeg = test::jpeg_bytes(cv::Mat(64, 64, CV_8UC3, cv::Scalar(90, 90, 90)));
  const std::array<std::uint8_t, 2> frame = {0xFF, 0xC0};
  const auto at = std::search(jpeg.begin(), jpeg.end(), frame.begin(), frame.end());
  for (int i = 5; i < 9; ++i)
    at[i] = i % 2 == 1 ? 0xEA : 0x60;
  return jpeg;
}

/// Grey steps of 16 bits, 240 x 180.
test::FileBytes deep_png() {
  test::PngDetails details;
  details.bits = 16;
  details.colour_type = PNG_COLOR_TYPE_GRAY;
  std::vector<test::FileBytes> rows(180, test::FileBytes(480));
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (std::size_t c = 0; c < 240; ++c) {
      rows[r][2 * c] = static_cast<std::uint8_t>(80 + (r * 7 + c * 3) % 40);
      rows[r][2 * c + 1] = static_cast<std::uint8_t>(r * c);
    }
  }
  return test::png_bytes(rows, 240, details);
}

test::FileBytes cmyk_jpeg() {
  test::JpegDetails details;
  details.colours = JCS_CMYK;
  return test::jpeg_bytes(cv::Mat(200, 300, CV_8UC4, cv::Scalar(10, 200, 100, 30)), details);
}

TEST(BadFiles, EachCostsOneLineAndTheRestIsKept) {
  const test::ScratchFolder folder;
  const std::string good = test::rendered_photo();
  folder.put("photos/good.jpg", good);
  folder.put("photos/z-again.jpg", good);
  folder.put("photos/deep.png", deep_png());
  folder.put("photos/empty.jpg", std::string());
  folder.put("photos/torn.jpg", good.substr(0, good.size() / 2));
  folder.put("photos/letter.jpg", std::string("Dear sir, please find the photos attached."));
  folder.put("photos/dot.jpg", test::jpeg_bytes(cv::Mat(1, 1, CV_8UC3, cv::Scalar(9, 9, 9))));
  folder.put("photos/boast.jpg", boasting_jpeg());
  folder.put("photos/print.jpg", cmyk_jpeg());
  folder.put("photos/notes.txt", std::string("not asked for"));
  fs::create_directories(folder / "photos/folder.jpg");
  fs::create_symlink("gone.jpg", folder / "photos/link.jpg");
  std::map<std::string, std::string> expected = {{"z-again.jpg", "the same photo as good.jpg"},
                                                 {"empty.jpg", "empty"},
                                                 {"torn.jpg", "torn file"},
                                                 {"letter.jpg", "not "},
                                                 {"dot.jpg", "1 x 1"},
                                                 {"boast.jpg", "60000 x 60000"},
                                                 {"print.jpg", "CMYK"},
                                                 {"link.jpg", ""}};
  if (::geteuid() != 0) {  // root reads everything
    fs::permissions(folder.put("photos/locked.jpg", good + "x"), fs::perms::none);
    expected["locked.jpg"] = "permission";
  }

  const test::Ran ran =
      test::run_program(LOTWEAR_PROGRAM, {"assess", folder / "photos", "-o", folder / "survey"}, folder);
  ASSERT_EQ(ran.exit_code, 0) << ran.err;
  const Survey survey = load_survey(folder / "survey");
  for (const auto& [file, words] : expected) {
    const std::vector<std::string> lines = problems_of(survey, file);
    ASSERT_THAT(lines, SizeIs(1)) << file;
    EXPECT_THAT(lines[0], HasSubstr(words)) << file;
    EXPECT_EQ(lines[0].find('\n'), std::string::npos) << file;
    EXPECT_THAT(ran.lines_of(file + ": "), SizeIs(1)) << ran.err;
  }
  EXPECT_EQ(survey.problems.size(), expected.size());
  ASSERT_EQ(survey.photos.size(), 2U);
  EXPECT_EQ(survey.photos[0].file, "deep.png");
  EXPECT_EQ(survey.photos[1].file, "good.jpg");
  EXPECT_FALSE(survey.markings.empty());

  // What stands beside a photo changes nothing about it.
  const test::Ran alone =
      test::run_program(LOTWEAR_PROGRAM, {"assess", folder / "photos/good.jpg", "-o", folder / "alone"}, folder);
  ASSERT_EQ(alone.exit_code, 0) << alone.err;
  const Survey same = load_survey(folder / "alone");
  ASSERT_EQ(same.markings.size(), survey.markings.size());
  for (std::size_t i = 0; i < same.markings.size(); ++i) {
    EXPECT_EQ(same.markings[i].outline, survey.markings[i].outline);
    EXPECT_EQ(same.markings[i].condition.remaining.value, survey.markings[i].condition.remaining.value);
  }
}

TEST(BadFiles, NothingButBadFilesIsStillASurvey) {
  const test::ScratchFolder folder;
  folder.put("photos/empty.jpg", std::string());
  const test::Ran ran =
      test::run_program(LOTWEAR_PROGRAM, {"assess", folder / "photos", "-o", folder / "survey"}, folder);
  EXPECT_EQ(ran.exit_code, 0) << ran.err;
  const Survey survey = load_survey(folder / "survey");
  EXPECT_TRUE(survey.photos.empty());
  EXPECT_THAT(survey.problems, SizeIs(1));
}

}  // namespace
}  // namespace lotwear
