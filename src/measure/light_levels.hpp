#pragma once
// The few light levels that broken light is told in, from the deepest shade to full sun, evenly apart in the log; how
// bare, part-covered and painted ground looks under each; and a table of numbers for every block and level.

#include <array>
#include <cstddef>
#include <opencv2/core/matx.hpp>
#include <vector>

#include "measure/paint_guess.hpp"
#include "measure/pavement_look.hpp"

namespace lotwear {

inline constexpr int kPaintShares = 5;  ///< shares of paint a pixel is tried with, from bare to whole
inline constexpr int kMostLevels = 24;  ///< room for 18, in whole vectors

using LevelRow = std::array<float, kMostLevels>;

struct LightLevels {
  std::vector<cv::Vec3f> bare;                                    ///< light of bare pavement under each level
  std::array<LevelRow, kPaintShares> log_light{}, red{}, blue{};  ///< looks of a share of paint, a column a level
  double step = 0.14;                                             ///< between levels, log light
};
/// `low`, `high`: log light of bare pavement under the first and the last level; 3 to 18 levels.
LightLevels levels_of(const PavementLook& look, const PaintGuess& paint, float low, float high);

/// Numbers for every block and level: a row of blocks holds its levels one after the other, each as a run over the row.
struct BlockLevels {
  int rows = 0, cols = 0, levels = 0;
  std::vector<float> values;
  BlockLevels(int r, int c, int k) : rows(r), cols(c), levels(k), values(static_cast<std::size_t>(r) * c * k, 0.0F) {}
  float* row(int r) { return values.data() + static_cast<std::size_t>(r) * cols * levels; }
  const float* row(int r) const { return values.data() + static_cast<std::size_t>(r) * cols * levels; }
  float at(int r, int c, std::size_t l) const { return row(r)[l * static_cast<std::size_t>(cols) + c]; }
  std::size_t run() const { return static_cast<std::size_t>(cols) * levels; }
};

}  // namespace lotwear
