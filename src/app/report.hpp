#pragma once
// `lotwear report`: the evidence report that goes with the bid, as an HTML page and as a PDF from one content; for the
// owner of the lot, or with costs and workings for the contractor.

#include <CLI/CLI.hpp>
#include <filesystem>
#include <optional>
#include <string>

namespace lotwear {

struct ReportOptions {
  std::filesystem::path survey = "survey";      ///< survey folder, or the survey.json itself
  std::optional<std::filesystem::path> output;  ///< one file, .pdf or HTML; both in the survey folder when not named
  std::optional<std::filesystem::path> rates;   ///< models/rates.json when not named: marked as examples in the report
  std::optional<std::string> title;             ///< the site's name when not given
  std::string date;                             ///< "2026-04-11"; empty: today, or the day of SOURCE_DATE_EPOCH
  std::string units = "us";                     ///< us or metric
  std::string copy = "owner";                   ///< owner, or contractor: with costs, margin and workings
  std::string option = "needs-work";            ///< safety-only, needs-work or full-lot
  std::string paper;                            ///< letter or a4; empty: letter with us units, else a4
  bool night = false, weekend = false;
};

CLI::App* add_report(CLI::App& app, ReportOptions& options);

/// Writes report.html and report.pdf (report-contractor.* for the contractor's copy), or the one file that was named,
/// and says on stderr where they are. Throws Failure when the survey or the rates cannot be read, the date is none, or
/// the file cannot be written.
void report(const ReportOptions& options);

}  // namespace lotwear
