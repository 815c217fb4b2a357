#pragma once
// `lotwear review`: a survey in a local web page; what a person decides there wins over what was measured.

#include <CLI/CLI.hpp>
#include <filesystem>
#include <ostream>
#include <vector>

namespace lotwear {

struct ReviewOptions {
  std::filesystem::path survey = "survey";    ///< survey folder, or the survey.json in it
  std::vector<std::filesystem::path> photos;  ///< folders with the photos, where they were moved since assess
  int port = 0;                               ///< 0: any free one
  bool no_open = false;                       ///< do not start the browser
};

CLI::App* add_review(CLI::App& app, ReviewOptions& options);

/// Says the page's address, opens the browser, and comes back when the page is done or Ctrl-C is pressed. Throws
/// Failure when the survey cannot be read or is being reviewed already, or the port is taken.
void review(const ReviewOptions& options, std::ostream& out);

}  // namespace lotwear
