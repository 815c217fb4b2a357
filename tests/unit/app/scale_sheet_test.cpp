#include "app/scale_sheet.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <CLI/Config.hpp>
#include <CLI/Formatter.hpp>

#include "base/files.hpp"
#include "base/trouble.hpp"

namespace lotwear {
namespace {

using testing::HasSubstr;
using testing::StartsWith;

/// A folder of its own, gone with the test.
class ScaleSheet : public testing::Test {
 protected:
  ScaleSheet() { std::filesystem::create_directories(folder_); }
  ~ScaleSheet() override { std::filesystem::remove_all(folder_); }

  ScaleSheetOptions asked(const std::string& name) const {
    ScaleSheetOptions options;
    options.output = folder_ / name;
    return options;
  }
  const std::filesystem::path folder_ =
      std::filesystem::path(testing::TempDir()) /
      (std::string("scale_sheet_") + testing::UnitTest::GetInstance()->current_test_info()->name());
};

TEST_F(ScaleSheet, WritesAPdf) {
  scale_sheet(asked("sheet.pdf"));
  EXPECT_THAT(read_file(folder_ / "sheet.pdf"), StartsWith("%PDF-"));
}

TEST_F(ScaleSheet, WritesThePicture) {
  ScaleSheetOptions options = asked("sheet.png");
  options.png = true;
  options.dpi = 100;
  scale_sheet(options);
  EXPECT_THAT(read_file(folder_ / "sheet.png"), StartsWith("\x89PNG"));
}

TEST_F(ScaleSheet, WritesTheSameBytesTwice) {
  for (const char* paper : {"letter", "a4", "both"}) {
    ScaleSheetOptions options = asked("one.pdf");
    options.paper = paper;
    scale_sheet(options);
    options.output = folder_ / "two.pdf";
    scale_sheet(options);
    EXPECT_EQ(read_file(folder_ / "one.pdf"), read_file(folder_ / "two.pdf")) << paper;
    EXPECT_THAT(read_file(folder_ / "one.pdf"), Not(HasSubstr("CreationDate"))) << paper;
  }
}

TEST_F(ScaleSheet, RefusesTwoSheetsInOnePicture) {
  ScaleSheetOptions options = asked("sheet.png");
  options.png = true;
  options.paper = "both";
  EXPECT_THROW(scale_sheet(options), Failure);
  EXPECT_FALSE(std::filesystem::exists(options.output));
}

TEST_F(ScaleSheet, SaysWhyItCannotWrite) {
  try {
    scale_sheet(asked("no such folder/sheet.pdf"));
    FAIL() << "a missing folder went unnoticed";
  } catch (const Failure& failure) {
    EXPECT_THAT(failure.what(), HasSubstr("no such folder/sheet.pdf"));
  }
}

TEST_F(ScaleSheet, ReadsItsCommandLine) {
  CLI::App app;
  ScaleSheetOptions options;
  CLI::App* const command = add_scale_sheet(app, options);
  app.parse("scale-sheet -o walk/sheet.png --paper a4 --png --dpi 150");
  EXPECT_TRUE(command->parsed());
  EXPECT_EQ(options.output, "walk/sheet.png");
  EXPECT_EQ(options.paper, "a4");
  EXPECT_TRUE(options.png);
  EXPECT_EQ(options.dpi, 150);
}

TEST_F(ScaleSheet, RefusesWrongUsage) {
  for (const char* line : {"scale-sheet", "scale-sheet -o a.pdf --paper a3", "scale-sheet -o a.png",
                           "scale-sheet -o a.png --png --dpi 5000", "scale-sheet -o a.png --png --paper both",
                           "scale-sheet -o a.pdf --dpi 300"}) {
    CLI::App app;
    ScaleSheetOptions options;
    add_scale_sheet(app, options);
    EXPECT_THROW(app.parse(line), CLI::ParseError) << line;
  }
}

}  // namespace
}  // namespace lotwear
