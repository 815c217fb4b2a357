#include "app/scale_sheet.hpp"

#include <fmt/format.h>

#include <CLI/Option.hpp>
#include <CLI/Validators.hpp>
#include <vector>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "views/sheet_drawing.hpp"

namespace lotwear {

namespace {

/// What is wrong with the options together, nothing when they agree.
std::optional<std::string> disagreement(const ScaleSheetOptions& options) {
  if (options.output.extension() == ".png" && !options.png) {
    return fmt::format("{}: ends in .png; add --png, or name a .pdf file", options.output.string());
  }
  if (options.png && options.paper == "both") {
    return "--paper both makes a PDF of two pages; a PNG holds one sheet: --paper letter or --paper a4";
  }
  return std::nullopt;
}

}  // namespace

CLI::App* add_scale_sheet(CLI::App& app, ScaleSheetOptions& options) {
  CLI::App* command = app.add_subcommand("scale-sheet", "Write the printable sheet that gives photos their scale");
  command->add_option("-o,--output", options.output, "File to write: a PDF, or a PNG with --png")->required();
  command->add_option("--paper", options.paper, "Paper: letter, a4, or both as two pages")
      ->check(CLI::IsMember({"letter", "a4", "both"}))
      ->capture_default_str();
  CLI::Option* png = command->add_flag("--png", options.png, "Write a picture instead of a PDF");
  command->add_option("--dpi", options.dpi, "Dots per inch of the picture")
      ->check(CLI::Range(kSheetDpiLow, kSheetDpiHigh))
      ->needs(png)
      ->capture_default_str();
  command->final_callback([&options] {
    if (const auto wrong = disagreement(options)) throw CLI::ValidationError("scale-sheet", *wrong);
  });
  return command;
}

void scale_sheet(const ScaleSheetOptions& options) {
  if (const auto wrong = disagreement(options)) throw Failure(*wrong);
  std::vector<Paper> papers;
  if (options.paper != "a4") papers.push_back(Paper::letter);
  if (options.paper != "letter") papers.push_back(Paper::a4);
  write_file(options.output, options.png ? sheet_png(papers.front(), options.dpi) : sheet_pdf(papers));
}

}  // namespace lotwear
