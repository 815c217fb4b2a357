#pragma once
// `lotwear estimate`: from a survey to quantities, hours and a price.

#include <CLI/CLI.hpp>
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>

namespace lotwear {

struct EstimateOptions {
  std::filesystem::path survey = "survey";     ///< survey folder, or the survey.json itself
  std::optional<std::filesystem::path> rates;  ///< models/rates.json when not named
  std::string units = "us";                    ///< us or metric
  std::string option = "needs-work";           ///< safety-only, needs-work or full-lot
  bool night = false, weekend = false;
  std::string copy = "contractor";              ///< owner: without costs, margins and workings
  std::optional<std::filesystem::path> folder;  ///< where the files go; the survey folder when not named
};

CLI::App* add_estimate(CLI::App& app, EstimateOptions& options);

/// Writes estimate.json, estimate.csv, estimate.xlsx and markings.geojson and prints a short table. Throws Failure when
/// the survey or the rates cannot be read or the files cannot be written.
void estimate(const EstimateOptions& options, std::ostream& out);
void estimate(const EstimateOptions& options);

}  // namespace lotwear
