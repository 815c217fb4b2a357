#pragma once
// `lotwear scale-sheet`: the page to print and lay beside a marking.

#include <CLI/App.hpp>
#include <filesystem>
#include <optional>
#include <string>

namespace lotwear {

struct ScaleSheetOptions {
  std::filesystem::path output;
  std::string paper = "letter";  ///< letter, a4, or both (a PDF of two pages)
  bool png = false;
  double dpi = 300;  ///< of the PNG
};

CLI::App* add_scale_sheet(CLI::App& app, ScaleSheetOptions& options);

/// Writes the file. Throws Failure when it cannot, or when the options ask for what a file cannot hold.
void scale_sheet(const ScaleSheetOptions& options);

}  // namespace lotwear
