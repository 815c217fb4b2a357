#include "app/report.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "support/sample_survey.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;
using testing::Not;

class ReportCommand : public testing::Test {
 protected:
  fs::path folder = fs::temp_directory_path() / ("lotwear-report-command-" + std::to_string(::getpid()));
  void SetUp() override {
    ::setenv("LOTWEAR_MODELS", LOTWEAR_MODELS, 1);
    fs::remove_all(folder);
    fs::create_directories(folder);
    save_survey(samples::small_lot(), folder);
  }
  void TearDown() override { fs::remove_all(folder); }

  ReportOptions options() const {
    ReportOptions options;
    options.survey = folder;
    options.date = "2026-04-12";
    return options;
  }
  std::string written() const { return read_file(folder / "report.html"); }
};

TEST_F(ReportCommand, WritesThePageAndThePdfIntoTheSurvey) {
  report(options());
  EXPECT_THAT(written(), HasSubstr("Harbour Row, north lot"));
  EXPECT_THAT(written(), HasSubstr("12 April 2026"));
  const auto files = std::distance(fs::directory_iterator(folder), fs::directory_iterator());
  EXPECT_EQ(files, 3) << "survey.json, report.html and report.pdf";
  EXPECT_EQ(read_file(folder / "report.pdf").substr(0, 5), "%PDF-");
}

TEST_F(ReportCommand, TakesTheSurveyFileItself) {
  ReportOptions named = options();
  named.survey = folder / "survey.json";
  report(named);
  EXPECT_TRUE(fs::exists(folder / "report.html"));
}

TEST_F(ReportCommand, WritesTheSameBytesTwice) {
  report(options());
  const std::string first = written();
  report(options());
  EXPECT_EQ(written(), first);
}

TEST_F(ReportCommand, WritesWhereAndWithTheTitleThatWasAsked) {
  ReportOptions named = options();
  named.output = folder / "for the owner.html";
  named.title = "Spring walk";
  report(named);
  const std::string html = read_file(folder / "for the owner.html");
  EXPECT_THAT(html, HasSubstr("<title>Spring walk</title>"));
  EXPECT_FALSE(fs::exists(folder / "report.html"));
}

TEST_F(ReportCommand, MarksExampleRatesAndOnlyThose) {
  report(options());
  EXPECT_THAT(written(), HasSubstr("not an offer"));
  ReportOptions own = options();
  own.rates = fs::path(LOTWEAR_MODELS) / "rates.json";
  report(own);
  EXPECT_THAT(written(), Not(HasSubstr("not an offer")));
}

TEST_F(ReportCommand, WritesThePdfAloneWhenItIsNamed) {
  ReportOptions named = options();
  named.output = folder / "mine.pdf";
  report(named);
  EXPECT_EQ(read_file(folder / "mine.pdf").substr(0, 5), "%PDF-");
  EXPECT_FALSE(fs::exists(folder / "report.html"));
}

TEST_F(ReportCommand, TheContractorsCopyHasANameAndCostsOfItsOwn) {
  ReportOptions own = options();
  own.rates = fs::path(LOTWEAR_MODELS) / "rates.json";
  own.copy = "contractor";
  report(own);
  EXPECT_FALSE(fs::exists(folder / "report.html")) << "nobody sends it by mistake";
  const std::string html = read_file(folder / "report-contractor.html");
  EXPECT_THAT(html, HasSubstr("not for the owner"));
  EXPECT_THAT(html, HasSubstr("costs.person"));
  own.copy = "owner";
  report(own);
  for (const char* word : {"costs.person", "prices.markup", "Margin", "paint.wet_film"})
    EXPECT_THAT(written(), Not(HasSubstr(word)));
}

TEST_F(ReportCommand, PricesTheOptionThatWasAskedAndShowsAllThree) {
  ReportOptions full = options();
  full.rates = fs::path(LOTWEAR_MODELS) / "rates.json";
  full.option = "full-lot";
  report(full);
  for (const char* words : {"Safety only", "All that needs work", "The full lot", "class=\"chosen\""})
    EXPECT_THAT(written(), HasSubstr(words));
  EXPECT_GT(written().find("class=\"chosen\""), written().find("All that needs work"));
}

TEST_F(ReportCommand, SpeaksMetricWhenAsked) {
  ReportOptions metric = options();
  metric.units = "metric";
  report(metric);
  EXPECT_THAT(written(), HasSubstr("m\u00b2"));
  EXPECT_THAT(written(), Not(HasSubstr("sq\u00a0ft")));
}

TEST_F(ReportCommand, TakesItsDayFromTheEnvironmentOfReproducibleBuilds) {
  ::setenv("SOURCE_DATE_EPOCH", "1767225600", 1);  // 2026-01-01T00:00:00Z
  ReportOptions undated = options();
  undated.date.clear();
  report(undated);
  ::unsetenv("SOURCE_DATE_EPOCH");
  EXPECT_THAT(written(), HasSubstr("1 January 2026"));
}

TEST_F(ReportCommand, RefusesWhatIsNoDay) {
  for (const char* odd : {"tomorrow", "2026-02-30", "2026-4-1", "2026-04-11x", "11/04/2026"}) {
    ReportOptions wrong = options();
    wrong.date = odd;
    EXPECT_THROW(report(wrong), Failure) << odd;
  }
  EXPECT_FALSE(fs::exists(folder / "report.html"));
}

TEST_F(ReportCommand, SaysWhatIsMissing) {
  ReportOptions wrong = options();
  wrong.survey = folder / "nowhere";
  EXPECT_THROW(report(wrong), Failure);
  wrong = options();
  wrong.rates = folder / "no-rates.json";
  EXPECT_THROW(report(wrong), Failure);
  wrong = options();
  wrong.output = folder / "no" / "such" / "folder.html";
  EXPECT_THROW(report(wrong), Failure);
}

TEST_F(ReportCommand, ReadsItsCommandLine) {
  CLI::App app;
  ReportOptions options;
  add_report(app, options);
  app.parse("report " + folder.string() + " -o out.html --title 'Spring walk' --date 2026-05-01 --units metric");
  EXPECT_EQ(options.survey, folder);
  EXPECT_EQ(options.output, fs::path("out.html"));
  EXPECT_EQ(options.title, "Spring walk");
  EXPECT_EQ(options.units, "metric");
  EXPECT_THROW(app.parse("report x --units furlong"), CLI::ParseError);
}

TEST_F(ReportCommand, TakesTheFolderThatAssessWritesByItself) {
  CLI::App app;
  ReportOptions options;
  add_report(app, options);
  app.parse("report");
  EXPECT_EQ(options.survey, fs::path("survey"));
}

}  // namespace
}  // namespace lotwear
