#pragma once
// `lotwear assess`: photos in, a survey folder out.

#include <CLI/CLI.hpp>
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace lotwear {

struct AssessOptions {
  std::vector<std::filesystem::path> photos;      ///< files and folders
  std::filesystem::path survey = "survey";        ///< folder to write
  std::filesystem::path policy;                   ///< empty: models/policy.json
  std::filesystem::path sketch;                   ///< empty: none; else one picture a stage goes there
  unsigned threads = 0;                           ///< 0: as many as the machine has
  std::optional<std::string> site, client, address;
  bool quiet = false;
};

CLI::App* add_assess(CLI::App& app, AssessOptions& options);

/// Writes the survey; progress and problem lines go to `progress`. Throws Failure when the job cannot be done.
void assess(const AssessOptions& options, std::ostream& progress);

}  // namespace lotwear
