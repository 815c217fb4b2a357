#include "capture/quality.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "capture/blur.hpp"

namespace lotwear {
namespace {

constexpr double kHopelessBlur = 8;     // pixels; what the edge profiles can tell apart
constexpr double kBlurred = 2.5;        // pixels of a 4000-pixel wide photo: edges smeared over six, cracks gone
constexpr double kUsualSide = 4000;     // pixels; larger sensors may smear over more of their smaller pixels
constexpr double kBurntOut = 0.04;      // share of the pavement side of the picture
constexpr double kFewMegapixels = 1.5;  // below what any phone of the last fifteen years stores
constexpr int kDark = 50;               // encoded; noise and 8-bit steps eat the difference of paint and asphalt there

/// Encoded green that all but the lightest twentieth stay under.
int light_end(const cv::Mat& green) {
  std::array<std::size_t, 256> count{};
  for (int row = 0; row < green.rows; ++row) {
    const std::uint8_t* values = green.ptr(row);
    for (int column = 0; column < green.cols; ++column)
      ++count[values[column]];
  }
  std::size_t above = 0;
  int value = 256;
  while (value > 0 && 20 * above < green.total())
    above += count[static_cast<std::size_t>(--value)];
  return value;
}

}  // namespace

Quality judge(const cv::Mat& rgb, const Sample& sample) {
  Quality quality;
  quality.clipped = sample.clipped;
  const std::optional<double> blur = blur_of(rgb, sample);
  quality.blur_px = blur.value_or(kHopelessBlur);
  quality.sharpness = {blur ? std::exp(-2 * std::pow(std::numbers::pi * *blur / 8, 2)) : 0.0};

  const double longer = std::max(rgb.cols, rgb.rows);
  if (!blur) {
    quality.advice.push_back(
        "retake: nothing in the picture is sharp enough to judge; tap on the marking, then hold still");
  } else if (*blur * std::min(1.0, kUsualSide / longer) > kBlurred) {
    quality.advice.push_back(fmt::format(
        "retake: the picture is blurred, edges are smeared over {:.0f} pixels; tap on the marking, then hold still",
        2 * std::sqrt(2 * std::numbers::ln2) * *blur));
  }
  if (sample.clipped_below.value > kBurntOut) {
    quality.advice.push_back(
        fmt::format("retake: {:.0f} % of the ground is burnt out; make the picture darker before you take it",
                    percent(sample.clipped_below)));
  }
  if (light_end(sample.green) < kDark) {
    quality.advice.push_back(
        "retake: the picture is too dark to tell paint from pavement; use daylight or more exposure");
  }
  if (static_cast<double>(rgb.total()) < kFewMegapixels * 1e6) {
    quality.advice.push_back(fmt::format(
        "the picture has only {} x {} pixels; use the original photo, not a copy from a message", rgb.cols, rgb.rows));
  }
  return quality;
}

}  // namespace lotwear
