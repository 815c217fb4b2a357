#include "measure/pavement_look.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "measure/carried.hpp"
#include "measure/light_look.hpp"
#include "measure/pavement_blocks.hpp"
#include "measure/quantile.hpp"

namespace lotwear {
namespace {

constexpr double kBrokenRange =
    0.45;  // spread of log light beside the marking above which there is more than one light

/// Blocks that are pavement for the most part.
struct MostlyPavement {
  std::vector<float> lights;  ///< log light
  std::vector<cv::Vec3f> means;
};
MostlyPavement mostly_pavement(const PavementBlocks& grid) {
  MostlyPavement blocks;
  for (int r = 0; r < grid.mean.rows; ++r) {
    for (int c = 0; c < grid.mean.cols; ++c) {
      if (grid.share.at<float>(r, c) < kMostlyPavement) continue;
      blocks.means.push_back(grid.mean.at<cv::Vec3f>(r, c));
      blocks.lights.push_back(look_at(blocks.means.back()).log_light);
    }
  }
  return blocks;
}

/// Log light.
struct TwoLights {
  float dark = 0, bright = 0;
};

/// Coarse stones make single blocks differ; light differs over several.
TwoLights range_of_light(const PavementBlocks& grid, const PlanView& plan) {
  const cv::Mat calm = carried(grid.mean, grid.share, grid.side * plan.mm_per_pixel, 1.2 * kBlockMm);
  std::vector<float> lights;
  for (int r = 0; r < grid.mean.rows; ++r) {
    for (int c = 0; c < grid.mean.cols; ++c) {
      if (grid.share.at<float>(r, c) >= kMostlyPavement) lights.push_back(look_at(calm.at<cv::Vec3f>(r, c)).log_light);
    }
  }
  return {quantile(lights, 0.04), quantile(lights, 0.96)};
}

/// Two means, from the ends of the range.
TwoLights two_means(const std::vector<float>& lights, const TwoLights& range) {
  float dark = range.dark, bright = range.bright;
  for (int turn = 0; turn < 8; ++turn) {
    double d = 0, b = 0;
    int nd = 0, nb = 0;
    for (const float l : lights) {
      if (std::abs(l - dark) < std::abs(l - bright))
        d += static_cast<double>(l), ++nd;
      else
        b += static_cast<double>(l), ++nb;
    }
    if (nd > 0) dark = static_cast<float>(d / nd);
    if (nb > 0) bright = static_cast<float>(b / nb);
  }
  return {dark, bright};
}

/// Mean linear light of the blocks whose log light is `within` of `at`.
std::array<double, 3> colour_near(const MostlyPavement& blocks, float at, float within) {
  std::array<double, 3> sum{};
  int n = 0;
  for (std::size_t i = 0; i < blocks.lights.size(); ++i) {
    if (std::abs(blocks.lights[i] - at) > within) continue;
    for (int k = 0; k < 3; ++k)
      sum[static_cast<std::size_t>(k)] += static_cast<double>(blocks.means[i][k]);
    ++n;
  }
  for (double& s : sum)
    s = n > 0 ? std::max(1e-4, s / n) : 1e-4;
  return sum;
}

/// Pixels against the mean of their block, so that light does not count.
struct OffBlock {
  std::vector<float> brightness, chroma;
  double share_seen = 0;
};
OffBlock off_block(const PlanView& plan, const PavementBlocks& grid) {
  OffBlock off;
  const int stride = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(plan.light.total()) / 60000.0)));
  double inside = 0, beside = 0;
  for (int r = 0; r < plan.light.rows; r += stride) {
    for (int c = 0; c < plan.light.cols; c += stride) {
      inside += plan.ours.at<unsigned char>(r, c);
      if (plan.beside.at<unsigned char>(r, c) == 0) continue;
      ++beside;
      const int br = r / grid.side, bc = c / grid.side;
      if (grid.share.at<float>(br, bc) < kMostlyPavement) continue;
      const LightLook pixel = look_at(plan.light.at<cv::Vec3f>(r, c)), block = look_at(grid.mean.at<cv::Vec3f>(br, bc));
      off.brightness.push_back(std::abs(pixel.log_light - block.log_light));
      off.chroma.push_back(std::abs(pixel.red - block.red));
      off.chroma.push_back(std::abs(pixel.blue - block.blue));
    }
  }
  off.share_seen = inside > 0 ? beside / inside : 0;
  return off;
}

}  // namespace

std::optional<PavementLook> look_of_pavement(const PlanView& plan) {
  const PavementBlocks grid = pavement_blocks(plan);
  const MostlyPavement blocks = mostly_pavement(grid);
  if (blocks.lights.size() < 24) return std::nullopt;

  PavementLook look;
  const TwoLights range = range_of_light(grid, plan);
  look.broken = range.bright - range.dark > static_cast<float>(kBrokenRange);
  if (look.broken) {
    const TwoLights means = two_means(blocks.lights, range);
    look.sun = colour_near(blocks, means.bright, 0.25F * (means.bright - means.dark));
    look.shade = colour_near(blocks, means.dark, 0.25F * (means.bright - means.dark));
  } else {
    look.sun = look.shade = colour_near(blocks, (range.dark + range.bright) / 2, range.bright - range.dark + 1);
  }

  OffBlock off = off_block(plan, grid);
  if (off.brightness.size() < 50) return std::nullopt;
  look.texture = std::clamp(1.4826 * static_cast<double>(quantile(off.brightness, 0.5)), 0.02, 0.8);
  look.chroma_spread = std::clamp(1.4826 * static_cast<double>(quantile(off.chroma, 0.5)), 0.003, 0.1);
  look.share_seen = off.share_seen;
  return look;
}

}  // namespace lotwear
