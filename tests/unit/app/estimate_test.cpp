#include "app/estimate.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "support/sample_survey.hpp"

namespace lotwear {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::Not;

/// A survey folder of its own for each test.
std::filesystem::path survey_folder() {
  const std::string name = testing::UnitTest::GetInstance()->current_test_info()->name();
  const std::filesystem::path folder = std::filesystem::path(testing::TempDir()) / ("lotwear-estimate-" + name);
  std::filesystem::remove_all(folder);
  std::filesystem::create_directories(folder);
  save_survey(samples::small_lot(), folder);
  return folder;
}

TEST(EstimateCommand, WritesItsFilesIntoTheSurveyFolderAndPrintsATable) {
  EstimateOptions options;
  options.survey = survey_folder();
  std::ostringstream out;
  estimate(options, out);
  EXPECT_THAT(read_file(options.survey / "estimate.json"), HasSubstr("\"format\": \"lotwear-estimate\""));
  EXPECT_THAT(read_file(options.survey / "estimate.csv"), HasSubstr("Repaint 2 white lines"));
  EXPECT_EQ(read_file(options.survey / "estimate.xlsx").substr(0, 2), "PK");
  EXPECT_THAT(read_file(options.survey / "markings.geojson"), HasSubstr("\"FeatureCollection\""));
  EXPECT_THAT(out.str(), AllOf(HasSubstr("grind-and-repaint"), HasSubstr("total, USD"), HasSubstr("length ft")));
}

TEST(EstimateCommand, TheSecondRunWritesTheSameBytes) {
  EstimateOptions options;
  options.survey = survey_folder();
  std::ostringstream out;
  estimate(options, out);
  const std::string json = read_file(options.survey / "estimate.json"),
                    csv = read_file(options.survey / "estimate.csv"),
                    xlsx = read_file(options.survey / "estimate.xlsx");
  estimate(options, out);
  EXPECT_TRUE(read_file(options.survey / "estimate.xlsx") == xlsx);
  EXPECT_EQ(read_file(options.survey / "estimate.json"), json);
  EXPECT_EQ(read_file(options.survey / "estimate.csv"), csv);
}

TEST(EstimateCommand, TakesRatesUnitsAndFolderFromTheCommandLine) {
  const std::filesystem::path folder = survey_folder();
  std::string rates = read_file(std::filesystem::path(LOTWEAR_MODELS) / "rates.json");
  rates.replace(rates.find("Example rates"), 13, "Harbour rates");
  write_file(folder / "mine.json", rates);
  CLI::App app;
  EstimateOptions options;
  add_estimate(app, options);
  app.parse("estimate " + (folder / "survey.json").string() + " --rates " + (folder / "mine.json").string() +
            " --units metric -o " + (folder / "bid").string());
  std::ostringstream out;
  estimate(options, out);
  EXPECT_THAT(read_file(folder / "bid" / "estimate.json"),
              AllOf(HasSubstr("\"rates\": \"Harbour rates\""), HasSubstr("\"units\": \"metric\"")));
  EXPECT_FALSE(std::filesystem::exists(folder / "estimate.json"));
}

TEST(EstimateCommand, TheOwnersCopyPrintsAndWritesNoCosts) {
  EstimateOptions options;
  options.survey = survey_folder();
  options.copy = "owner";
  options.option = "full-lot";
  std::ostringstream out;
  estimate(options, out);
  EXPECT_THAT(out.str(), AllOf(HasSubstr("the full lot"), Not(HasSubstr("left over"))));
  EXPECT_THAT(read_file(options.survey / "estimate.json"),
              AllOf(HasSubstr("\"option\": \"full-lot\""), HasSubstr("\"margin\": null"), Not(HasSubstr("cost"))));
}

TEST(EstimateCommand, RefusesOtherUnits) {
  CLI::App app;
  EstimateOptions options;
  add_estimate(app, options);
  EXPECT_THROW(app.parse("estimate somewhere --units cubits"), CLI::ParseError);
}

TEST(EstimateCommand, AMissingSurveyOrWrongRatesLeaveNothingBehind) {
  EstimateOptions options;
  options.survey = survey_folder();
  options.rates = options.survey / "survey.json";
  std::ostringstream out;
  EXPECT_THROW(estimate(options, out), Failure);
  EXPECT_FALSE(std::filesystem::exists(options.survey / "estimate.json"));
  options.survey = options.survey / "nowhere";
  options.rates.reset();
  EXPECT_THROW(estimate(options, out), Failure);
}

}  // namespace
}  // namespace lotwear
