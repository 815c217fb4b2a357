#include "measure/light_field.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <vector>

#include "measure/carried.hpp"
#include "measure/light_costs.hpp"
#include "measure/light_levels.hpp"
#include "measure/light_look.hpp"
#include "measure/pavement_blocks.hpp"
#include "measure/quantile.hpp"
#include "measure/settled_levels.hpp"

namespace lotwear {
namespace {

/// From blocks to plan pixels. Blocks reach past the plan's edge, so the grid is enlarged to whole blocks and cut.
cv::Mat at_every_pixel(const cv::Mat& field, int side, const PlanView& plan) {
  cv::Mat full;
  cv::resize(field, full, {field.cols * side, field.rows * side}, 0, 0, cv::INTER_LINEAR);
  return full(cv::Rect(0, 0, plan.light.cols, plan.light.rows));
}

/// What the levels leave over beside the marking (stains, vignetting), carried inward smoothly: a factor a block.
cv::Mat left_over_beside(const cv::Mat& field, const PavementBlocks& grid, const PlanView& plan) {
  cv::Mat rest(field.size(), CV_32FC3, cv::Scalar::all(1));
  for (int r = 0; r < field.rows; ++r) {
    for (int c = 0; c < field.cols; ++c) {
      if (grid.share.at<float>(r, c) <= 0) continue;
      for (int k = 0; k < 3; ++k) {
        rest.at<cv::Vec3f>(r, c)[k] = std::clamp(
            grid.mean.at<cv::Vec3f>(r, c)[k] / std::max(kDarkestLight, field.at<cv::Vec3f>(r, c)[k]), 0.6F, 1.6F);
      }
    }
  }
  return carried(rest, grid.share, grid.side * plan.mm_per_pixel, 60);
}

}  // namespace

cv::Mat even_light(const PlanView& plan, double scale_mm) {
  const PavementBlocks grid = pavement_blocks(plan);
  const double cell = grid.side * plan.mm_per_pixel;
  return at_every_pixel(carried(grid.mean, grid.share, cell, scale_mm), grid.side, plan);
}

struct LightSearch::Seen {
  const PlanView& plan;
  PavementLook look;
  PavementBlocks grid;
  float low = 0, high = 0;  ///< log light, the range of levels
  std::optional<PixelLooks> glanced, full;

  const PixelLooks& pixels(Effort effort) {
    std::optional<PixelLooks>& looks = effort == Effort::glance ? glanced : full;
    if (!looks) looks = looks_of(plan, grid.side, effort == Effort::glance ? 2 : 4);
    return *looks;
  }
};

LightSearch::LightSearch(const PlanView& plan, const PavementLook& look)
    : seen_(std::make_unique<Seen>(Seen{plan, look, pavement_blocks(plan), 0, 0, {}, {}})) {
  const PavementBlocks& grid = seen_->grid;
  std::vector<float> lights;
  for (int r = 0; r < grid.mean.rows; ++r) {
    for (int c = 0; c < grid.mean.cols; ++c) {
      if (grid.share.at<float>(r, c) >= kMostlyPavement)
        lights.push_back(look_at(grid.mean.at<cv::Vec3f>(r, c)).log_light);
    }
  }
  // Things that are not bare pavement (unlisted paint, leaves, a drain) must not stretch the range.
  const auto log_of = [](const std::array<double, 3>& c) {
    return look_at({static_cast<float>(c[0]), static_cast<float>(c[1]), static_cast<float>(c[2])}).log_light;
  };
  seen_->low = std::max(quantile(lights, 0.01), log_of(look.shade) - 0.5F) - 0.05F;
  seen_->high = std::min(quantile(lights, 0.99), log_of(look.sun) + 0.35F) + 0.05F;
}

LightSearch::~LightSearch() = default;

BrokenLight LightSearch::under(const PaintGuess& paint, Effort effort) {
  const PlanView& plan = seen_->plan;
  const PavementBlocks& grid = seen_->grid;
  const LightLevels levels = levels_of(seen_->look, paint, seen_->low, seen_->high);
  BlockLevels costs = block_costs(seen_->pixels(effort), seen_->look, paint, levels);
  lean_on_beside(costs, grid, plan, static_cast<double>(seen_->low), levels.step);
  const cv::Mat level = settled_levels(costs, levels.step, effort == Effort::glance ? 1 : 3);

  cv::Mat field(level.size(), CV_32FC3);
  double misfit = 0;
  int inside = 0;
  for (int r = 0; r < level.rows; ++r) {
    for (int c = 0; c < level.cols; ++c) {
      const float l = level.at<float>(r, c);
      const auto i =
          static_cast<std::size_t>(std::clamp(static_cast<int>(l), 0, static_cast<int>(levels.bare.size()) - 2));
      const float t = l - static_cast<float>(i);
      if (grid.share.at<float>(r, c) == 0) {
        const float cost = costs.at(r, c, i) * (1 - t) + costs.at(r, c, i + 1) * t;
        if (cost > 0) misfit += static_cast<double>(cost), ++inside;
      }
      field.at<cv::Vec3f>(r, c) = levels.bare[i] * (1 - t) + levels.bare[i + 1] * t;
    }
  }
  if (effort == Effort::glance) return {{}, inside > 0 ? misfit / inside : 0};
  field = field.mul(left_over_beside(field, grid, plan));
  return {at_every_pixel(field, grid.side, plan), inside > 0 ? misfit / inside : 0};
}

}  // namespace lotwear
