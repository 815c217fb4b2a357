#include "app/report.hpp"

#include <fmt/format.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>

#include "app/models.hpp"
#include "base/files.hpp"
#include "base/trouble.hpp"
#include "survey/survey.hpp"
#include "tally/tally.hpp"
#include "views/report_html.hpp"
#include "views/report_pdf.hpp"

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

EstimateSettings estimate_settings(const ReportOptions& options, Units units) {
  EstimateSettings settings;
  settings.units = units;
  for (const BidOption option : kBidOptions) {
    if (options.option == word(option)) settings.option = option;
  }
  settings.night = options.night;
  settings.weekend = options.weekend;
  return settings;
}

std::vector<std::filesystem::path> files_of(const ReportOptions& options, const std::filesystem::path& folder,
                                            Copy copy) {
  if (options.output) return {*options.output};
  const std::string name = copy == Copy::contractor ? "report-contractor" : "report";
  return {folder / (name + ".html"), folder / (name + ".pdf")};
}

}  // namespace

CLI::App* add_report(CLI::App& app, ReportOptions& options) {
  CLI::App* command = app.add_subcommand("report", "Write the evidence report of a survey, as HTML and PDF");
  command->add_option("survey", options.survey, "survey folder, as assess wrote it")->capture_default_str();
  command->add_option("-o,--output", options.output,
                      "one file to write, .pdf or .html; report.html and report.pdf in the survey folder if not given");
  command->add_option("--rates", options.rates, "your rates; the example rates, marked as such, if not given");
  command->add_option("--title", options.title, "title of the report; the site's name if not given");
  command->add_option("--date", options.date, "date of the report, as in 2026-04-11; today if not given");
  command->add_option("--units", options.units, "units of sizes and quantities")
      ->check(CLI::IsMember({"us", "metric"}))
      ->capture_default_str();
  command->add_option("--copy", options.copy, "owner, or contractor: with costs, margin and workings")
      ->check(CLI::IsMember({"owner", "contractor"}))
      ->capture_default_str();
  command->add_option("--option", options.option, "what the price is for: safety-only, needs-work or full-lot")
      ->check(CLI::IsMember({"safety-only", "needs-work", "full-lot"}))
      ->capture_default_str();
  command->add_flag("--night", options.night, "night work: the rates' surcharge on labour and tools");
  command->add_flag("--weekend", options.weekend, "weekend work: the rates' surcharge on labour and tools");
  command->add_option("--paper", options.paper, "paper of the PDF; letter with us units, a4 with metric if not given")
      ->check(CLI::IsMember({"letter", "a4"}));
  command->footer(
      "Examples:\n  lotwear report survey --rates my-rates.json\n"
      "  lotwear report survey --rates my-rates.json --copy contractor -o mine.pdf");
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

  settings.copy = options.copy == "contractor" ? Copy::contractor : Copy::owner;

  const std::filesystem::path folder = folder_of(options.survey);
  const EstimateSettings priced = estimate_settings(options, settings.units);
  const ReportContent content = report_content(survey, policy_of(survey), estimate(survey, rates, priced), folder,
                                               settings, estimate_options(survey, rates, priced));
  const bool a4 = options.paper.empty() ? settings.units == Units::metric : options.paper == "a4";
  std::vector<std::pair<std::filesystem::path, std::string>> made;  // all of them before the first is written
  for (const std::filesystem::path& file : files_of(options, folder, settings.copy)) {
    const bool pdf = file.extension() == ".pdf";
    made.emplace_back(file, pdf ? report_pdf(content, a4 ? kA4Page : kLetterPage) : report_html(content));
  }
  for (const auto& [file, bytes] : made) {
    write_file(file, bytes);
    fmt::print(stderr, "{}: {} markings, {} photos\n", file.string(), content.cards.size(), content.photos.size());
  }
}

}  // namespace lotwear
