#pragma once
// `lotwear rates new|check`: a contractor's own rates file, from the commented example to one that reads well.

#include <CLI/CLI.hpp>
#include <filesystem>
#include <iosfwd>
#include <string>

namespace lotwear {

struct RatesOptions {
  std::filesystem::path file;  ///< to write, or to look at
  std::string name;            ///< of the new rates; "Rates of <file>" when empty
};

struct RatesCommands {
  CLI::App* check = nullptr;
  CLI::App* fresh = nullptr;
};
RatesCommands add_rates(CLI::App& app, RatesOptions& options);

/// Copies models/rates.json with its comments. Throws Failure when the file is there already: nobody's rates are
/// overwritten.
void rates_new(const RatesOptions& options, std::ostream& out);

/// Prints every mistake with line and column. Throws Failure with their number when there are any.
void rates_check(const RatesOptions& options, std::ostream& out);

}  // namespace lotwear
