#pragma once
// Figures that a test run is read for: printed, and kept for tools/test, which shows them when all tests are through.

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

namespace lotwear::test {

inline void show_figure(const std::string& name, const std::string& text) {
  std::fputs(text.c_str(), stdout);
  const std::filesystem::path folder = LOTWEAR_FIGURES;
  std::filesystem::create_directories(folder);
  std::ofstream(folder / (name + ".txt")) << text;
}

}  // namespace lotwear::test
