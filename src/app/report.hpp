#pragma once
// `lotwear report`: the evidence report that goes with the bid, for the owner of the lot.

#include <CLI/App.hpp>
#include <filesystem>
#include <optional>
#include <string>

namespace lotwear {

struct ReportOptions {
  std::filesystem::path survey;                 ///< survey folder, or the survey.json itself
  std::optional<std::filesystem::path> output;  ///< report.html in the survey folder when not named
  std::optional<std::filesystem::path> rates;   ///< models/rates.json when not named: marked as examples in the report
  std::optional<std::string> title;             ///< the site's name when not given
  std::string date;                             ///< "2026-04-11"; empty: today, or the day of SOURCE_DATE_EPOCH
  std::string units = "us";                     ///< us or metric
};

CLI::App* add_report(CLI::App& app, ReportOptions& options);

/// Writes one HTML file and says on stderr where it is. Throws Failure when the survey or the rates cannot be read, the
/// date is none, or the file cannot be written.
void report(const ReportOptions& options);

}  // namespace lotwear
