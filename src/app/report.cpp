#include "app/report.hpp"

#include <fmt/format.h>

#include <chrono>
#include <CLI/Validators.hpp>
#include <cstdio>
#include <cstdlib>
#include <ctime>

#include "app/models.hpp"
#include "base/files.hpp"
#include "base/trouble.hpp"
#include "survey/survey.hpp"
#include "tally/tally.hpp"
#include "views/report_html.hpp"

namespace lotwear {

namespace {

std::filesystem::path folder_of(const std::filesystem::path& survey) {
  if (std::filesystem::is_directory(survey)) return survey;
  const std::filesystem::path parent = survey.parent_path();
  return parent.empty() ? "." : parent;
}

/// Local day now, or the one that reproducible builds ask for (reproducible-builds.org, SOURCE_DATE_EPOCH, in UTC).
std::string today() {
  std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  std::tm day{};
  if (const char* epoch = std::getenv("SOURCE_DATE_EPOCH")) {
    now = static_cast<std::time_t>(std::strtoll(epoch, nullptr, 10));
    gmtime_r(&now, &day);
  } else {
    localtime_r(&now, &day);
  }
  return fmt::format("{:04}-{:02}-{:02}", day.tm_year + 1900, day.tm_mon + 1, day.tm_mday);
}

void check_date(const std::string& date) {
  int year = 0, month = 0, day = 0, read = 0;
  const bool shaped = date.size() == 10 && std::sscanf(date.c_str(), "%4d-%2d-%2d%n", &year, &month, &day, &read) == 3;
  const auto of_calendar = std::chrono::year(year) / month / day;
  if (!shaped || read != 10 || !of_calendar.ok()) {
    throw Failure(fmt::format("{}: is not a day; write it as in --date 2026-04-11", date));
  }
}

}  // namespace

CLI::App* add_report(CLI::App& app, ReportOptions& options) {
  CLI::App* command = app.add_subcommand("report", "Write the evidence report of a survey as one HTML file");
  command->add_option("survey", options.survey, "survey folder, as assess wrote it")->required();
  command->add_option("-o,--output", options.output, "file to write; report.html in the survey folder if not given");
  command->add_option("--rates", options.rates, "your rates; the example rates, marked as such, if not given");
  command->add_option("--title", options.title, "title of the report; the site's name if not given");
  command->add_option("--date", options.date, "date of the report, as in 2026-04-11; today if not given");
  command->add_option("--units", options.units, "units of sizes and quantities")
      ->check(CLI::IsMember({"us", "metric"}))
      ->capture_default_str();
  return command;
}

void report(const ReportOptions& options) {
  const Survey survey = load_survey(options.survey);
  const Rates rates = load_rates(options.rates ? *options.rates : models_folder() / "rates.json");
  ReportSettings settings;
  settings.date = options.date.empty() ? today() : options.date;
  check_date(settings.date);
  settings.title = options.title;
  settings.units = options.units == "metric" ? Units::metric : Units::us_customary;
  settings.rates = options.rates ? RatesFrom::contractor : RatesFrom::example;

  const std::filesystem::path folder = folder_of(options.survey);
  const Estimate sum = estimate(survey, rates, settings.units);
  const ReportContent content = report_content(survey, policy_of(survey), sum, folder, settings);
  const std::filesystem::path file = options.output.value_or(folder / "report.html");
  write_file(file, report_html(content));
  fmt::print(stderr, "{}: {} markings, {} photos\n", file.string(), content.cards.size(), content.photos.size());
}

}  // namespace lotwear
