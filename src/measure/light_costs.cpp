#include "measure/light_costs.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <opencv2/core/mat.hpp>

#include "measure/carried.hpp"
#include "measure/wide_loops.hpp"

namespace lotwear {
namespace {

struct PixelCost {
  std::array<float, kPaintShares> width_weight{}, base{};
  float chroma_weight = 0;
};

/// Adds what each level costs this pixel to `own`.
LOTWEAR_WIDE void add_pixel_cost(float log_light, float red, float blue, std::size_t shares, const LightLevels& levels,
                                 const PixelCost& cost, LevelRow& own) {
  constexpr float kWorst = 14, kOdd = 5;
  const std::size_t count = (levels.bare.size() + 7) / 8 * 8;  // whole vectors; those too many are not read
  LevelRow best;
  best.fill(kWorst);
  for (std::size_t f = 0; f < shares; ++f) {
    const LevelRow &as_log = levels.log_light[f], &as_red = levels.red[f], &as_blue = levels.blue[f];
    const float width = cost.width_weight[f], base = cost.base[f] + 4, chroma = cost.chroma_weight;
    for (std::size_t l = 0; l < count; ++l) {
      const float dl = log_light - as_log[l], dr = red - as_red[l], db = blue - as_blue[l];
      const float light = width * dl * dl, tint = chroma * (dr * dr + db * db);
      // light / (1 + light / kOdd) + tint / (1 + tint / kOdd), with one division
      const float down = (kOdd + light) * (kOdd + tint);
      const float both = kOdd * (light * (kOdd + tint) + tint * (kOdd + light)) / down + base;
      best[l] = both < best[l] ? both : best[l];
    }
  }
  for (std::size_t l = 0; l < count; ++l)
    own[l] += best[l];
}

}  // namespace

PixelLooks looks_of(const PlanView& plan, int side, int taps) {
  PixelLooks looks;
  looks.rows = (plan.light.rows + side - 1) / side, looks.cols = (plan.light.cols + side - 1) / side;
  const int stride = std::max(1, side / taps);
  looks.count.reserve(static_cast<std::size_t>(looks.rows) * looks.cols);
  for (int br = 0; br < looks.rows; ++br) {
    for (int bc = 0; bc < looks.cols; ++bc) {
      const std::size_t before = looks.all.size();
      for (int r = br * side; r < std::min(plan.light.rows, (br + 1) * side); r += stride) {
        for (int c = bc * side; c < std::min(plan.light.cols, (bc + 1) * side); c += stride) {
          const bool ours = plan.ours.at<unsigned char>(r, c) != 0;
          if (!ours && plan.beside.at<unsigned char>(r, c) == 0) continue;
          looks.all.push_back({look_at(plan.light.at<cv::Vec3f>(r, c)), ours});
        }
      }
      looks.count.push_back(static_cast<int>(looks.all.size() - before));
    }
  }
  return looks;
}

BlockLevels block_costs(const PixelLooks& pixels, const PavementLook& look, const PaintGuess& paint,
                        const LightLevels& levels) {
  BlockLevels costs(pixels.rows, pixels.cols, static_cast<int>(levels.bare.size()));
  const double chroma = std::hypot(look.chroma_spread, 0.012);
  PixelCost cost;
  cost.chroma_weight = static_cast<float>(0.5 / (chroma * chroma));
  for (std::size_t f = 0; f < kPaintShares; ++f) {
    const double t = static_cast<double>(f) / (kPaintShares - 1.0);
    const double spread = std::hypot((1 - t) * look.texture + t * paint.spread, 0.04 + 0.5 * levels.step * 0.5);
    cost.width_weight[f] = static_cast<float>(0.5 / (spread * spread));
    // Pixels half covered are rarer than covered or bare ones.
    cost.base[f] = static_cast<float>(std::log(spread) + (f == 0 || f == kPaintShares - 1 ? 0.0 : 1.2));
  }
  std::size_t next = 0;
  for (int br = 0; br < costs.rows; ++br) {
    float* out = costs.row(br);
    for (int bc = 0; bc < costs.cols; ++bc) {
      LevelRow own{};
      const int n = pixels.count[static_cast<std::size_t>(br) * costs.cols + bc];
      for (int i = 0; i < n; ++i, ++next) {
        const PixelLooks::Pixel& p = pixels.all[next];
        add_pixel_cost(p.look.log_light, p.look.red, p.look.blue, p.ours ? kPaintShares : 1, levels, cost, own);
      }
      // Neighbouring pixels share stones and demosaicing: a block is worth about a quarter of its pixels.
      const float worth = n > 0 ? std::min(4.0F, static_cast<float>(n) / 4) / static_cast<float>(n) : 0;
      for (int l = 0; l < costs.levels; ++l)
        out[static_cast<std::size_t>(l) * costs.cols + bc] = own[static_cast<std::size_t>(l)] * worth;
    }
  }
  return costs;
}

void lean_on_beside(BlockLevels& costs, const PavementBlocks& grid, const PlanView& plan, double low, double step) {
  constexpr double kMottle = 0.08;  // blocks of pavement in one light differ by about this much in log light
  constexpr double kOwnShadow = 8;  // what a shadow that lies on the marking alone costs a block at most
  cv::Mat moments(grid.share.size(), CV_32FC2, cv::Scalar(0, 0));
  for (int r = 0; r < grid.share.rows; ++r) {
    for (int c = 0; c < grid.share.cols; ++c) {
      if (grid.share.at<float>(r, c) <= 0) continue;
      const float l = look_at(grid.mean.at<cv::Vec3f>(r, c)).log_light;
      moments.at<cv::Vec2f>(r, c) = {l, l * l};
    }
  }
  const cv::Mat beside = carried(moments, grid.share, grid.side * plan.mm_per_pixel, 1.2 * kBlockMm);
  for (int r = 0; r < costs.rows; ++r) {
    float* own = costs.row(r);
    for (int c = 0; c < costs.cols; ++c) {
      if (grid.share.at<float>(r, c) > 0.3F) continue;
      const cv::Vec2f m = beside.at<cv::Vec2f>(r, c);
      const double spread2 = std::max(0.0, static_cast<double>(m[1] - m[0] * m[0])) + kMottle * kMottle;
      for (int l = 0; l < costs.levels; ++l) {
        const double off = low + l * step - static_cast<double>(m[0]), cost = 0.5 * off * off / spread2;
        own[static_cast<std::size_t>(l) * static_cast<std::size_t>(costs.cols) + static_cast<std::size_t>(c)] +=
            static_cast<float>(cost / (1 + cost / kOwnShadow));
      }
    }
  }
}

}  // namespace lotwear
