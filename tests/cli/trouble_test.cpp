// Wrong words are exit code 2, a job that cannot be done is exit code 1 and one line; nothing is left lying about and
// nothing of the user's is lost.

#include <gmock/gmock.h>

#include <algorithm>

#include "base/files.hpp"
#include "support/rendered_photo.hpp"
#include "support/run_program.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

test::Ran lotwear(const test::ScratchFolder& folder, const std::vector<std::string>& words) {
  return test::run_program(LOTWEAR_PROGRAM, words, folder);
}

/// Files that only a run in progress may have: temporary names and pictures without an id.
std::vector<std::string> litter(const fs::path& folder) {
  std::vector<std::string> found;
  std::error_code ignored;
  for (const auto& entry : fs::recursive_directory_iterator(folder, ignored)) {
    const std::string name = entry.path().filename().string();
    if (name.starts_with(".lotwear-") || name.starts_with("P0")) found.push_back(name);
  }
  return found;
}

/// Exit code 1 and one line that says what, which file and why.
void expect_failure(const test::Ran& ran, const std::string& words) {
  EXPECT_EQ(ran.exit_code, 1) << ran.err;
  EXPECT_THAT(ran.out, IsEmpty());
  const std::vector<std::string> lines = ran.lines_of("lotwear: ");
  ASSERT_EQ(lines.size(), 1U) << ran.err;
  EXPECT_THAT(lines[0], HasSubstr(words));
  EXPECT_EQ(std::count(ran.err.begin(), ran.err.end(), '\n'), 1 + static_cast<std::ptrdiff_t>(ran.lines_of("[").size()))
      << ran.err;
}

TEST(WrongUsage, IsExitCodeTwo) {
  const test::ScratchFolder folder;
  const std::vector<std::vector<std::string>> wrong = {
      {},
      {"asess", "photos"},
      {"assess"},
      {"assess", "photos", "--threads", "many"},
      {"assess", "photos", "--colour"},
      {"estimate", "survey", "--units", "cubits"},
      {"estimate", "survey", "--option", "half-lot"},
      {"rates"},
      {"rates", "check"},
      {"report", "survey", "--copy", "everybody"},
      {"scale-sheet"},
      {"scale-sheet", "-o", "sheet.pdf", "--paper", "a0"},
      {"scale-sheet", "-o", "sheet.png", "--png", "--dpi", "20"},
  };
  for (const auto& words : wrong) {
    const test::Ran ran = lotwear(folder, words);
    EXPECT_EQ(ran.exit_code, 2) << ::testing::PrintToString(words) << ran.err;
    EXPECT_FALSE(ran.err.empty()) << ::testing::PrintToString(words);
  }
}

TEST(NoSurveyNamed, IsTheFolderThatAssessWritesToByItself) {
  const test::ScratchFolder folder;
  for (const char* command : {"estimate", "report"})
    expect_failure(lotwear(folder, {command}), "survey: there is no survey; name the folder that assess wrote");
  expect_failure(lotwear(folder, {"review", "--no-open"}), "survey: is no survey folder");
}

TEST(WrongUsage, HelpAndVersionAreNone) {
  const test::ScratchFolder folder;
  for (const char* word : {"--help", "--version"}) {
    const test::Ran ran = lotwear(folder, {word});
    EXPECT_EQ(ran.exit_code, 0);
    EXPECT_THAT(ran.out, HasSubstr("lotwear"));
  }
}

TEST(Job, PhotosThatAreNotThereLeaveTheSurveyAsItWas) {
  const test::ScratchFolder folder;
  const std::string photo = folder.put("a.jpg", test::rendered_photo(80'001));
  ASSERT_EQ(lotwear(folder, {"assess", photo, "-o", folder / "survey"}).exit_code, 0);
  const std::string before = read_file(folder / "survey/survey.json");
  expect_failure(lotwear(folder, {"assess", folder / "phtoos", "-o", folder / "survey"}), "phtoos");
  fs::create_directories(folder / "none");
  expect_failure(lotwear(folder, {"assess", folder / "none", "-o", folder / "survey"}), "none");
  EXPECT_TRUE(read_file(folder / "survey/survey.json") == before);
}

TEST(Job, ASurveyFolderThatCannotBeMade) {
  const test::ScratchFolder folder;
  const std::string photo = folder.put("a.jpg", test::rendered_photo(80'001));
  const std::string file = folder.put("file", std::string("mine"));
  expect_failure(lotwear(folder, {"assess", photo, "-o", file + "/survey"}), "file/survey");
  expect_failure(lotwear(folder, {"assess", photo, "-o", file}), file);
  EXPECT_EQ(read_file(file), "mine");
}

TEST(Job, ASurveyThatIsNoneIsNotOverwritten) {
  const test::ScratchFolder folder;
  const std::string photo = folder.put("a.jpg", test::rendered_photo(80'001));
  const std::string file = folder.put("survey/survey.json", std::string("{\"format\": \"shopping list\"}"));
  expect_failure(lotwear(folder, {"assess", photo, "-o", folder / "survey"}), "survey.json");
  EXPECT_EQ(read_file(file), "{\"format\": \"shopping list\"}");
  expect_failure(lotwear(folder, {"estimate", folder / "survey"}), "survey.json");
  expect_failure(lotwear(folder, {"report", folder / "survey"}), "survey.json");
}

TEST(Job, EvidenceThatCannotBeNamedLeavesNothingBehind) {
  const test::ScratchFolder folder;
  const std::string photo = folder.put("a.jpg", test::rendered_photo(80'001));
  folder.put("survey/evidence/M001-photo.jpg/mine.txt", std::string("mine"));
  expect_failure(lotwear(folder, {"assess", photo, "-o", folder / "survey"}), "M001-photo.jpg");
  EXPECT_THAT(litter(folder / "survey"), IsEmpty());
  EXPECT_FALSE(fs::exists(folder / "survey/survey.json"));
  EXPECT_TRUE(fs::exists(folder / "survey/evidence/M001-photo.jpg/mine.txt"));
}

TEST(Job, OutputsInTheWayOfOthers) {
  const test::ScratchFolder folder;
  const std::string photo = folder.put("a.jpg", test::rendered_photo(80'001));
  ASSERT_EQ(lotwear(folder, {"assess", photo, "-o", folder / "survey"}).exit_code, 0);
  fs::create_directories(folder / "survey/estimate.json/kept");
  expect_failure(lotwear(folder, {"estimate", folder / "survey"}), "estimate.json");
  expect_failure(lotwear(folder, {"report", folder / "survey", "-o", folder / "no/such/folder/report.html"}),
                 "report.html");
  expect_failure(lotwear(folder, {"report", folder / "survey", "--date", "yesterday"}), "yesterday");
  expect_failure(lotwear(folder, {"scale-sheet", "-o", folder / "no/such/folder/sheet.pdf"}), "sheet.pdf");
  expect_failure(lotwear(folder, {"estimate", folder / "survey", "--rates", folder / "none.json"}), "none.json");
  EXPECT_THAT(litter(folder.path()), IsEmpty());
}

TEST(Job, AFolderThatMayNotBeWritten) {
  if (::geteuid() == 0) GTEST_SKIP() << "root may write everywhere";
  const test::ScratchFolder folder;
  const std::string photo = folder.put("a.jpg", test::rendered_photo(80'001));
  fs::create_directories(folder / "survey");
  fs::permissions(folder / "survey", fs::perms::owner_read | fs::perms::owner_exec);
  expect_failure(lotwear(folder, {"assess", photo, "-o", folder / "survey"}), "survey");
  fs::permissions(folder / "survey", fs::perms::owner_all);
}

}  // namespace
}  // namespace lotwear
