#include "measure/sound_paint.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "measure/carried.hpp"
#include "measure/plan_core.hpp"

namespace lotwear {

double calm_paint(const PlanView& plan, const cv::Mat& x, double core_mm) {
  const int side = std::max(4, static_cast<int>(std::lround(12 / plan.mm_per_pixel)));
  struct Block {
    double rough, level;
  };
  std::vector<Block> blocks;
  for (int top = 0; top + side <= x.rows; top += side) {
    for (int left = 0; left + side <= x.cols; left += side) {
      double n = 0, sum = 0, square = 0;
      for (int r = top; r < top + side; ++r) {
        for (int c = left; c < left + side; ++c) {
          if (!in_core(plan, r, c, core_mm)) continue;
          const auto v = static_cast<double>(x.at<float>(r, c));
          n += 1, sum += v, square += v * v;
        }
      }
      if (n < 0.7 * side * side) continue;
      const double mean = sum / n;
      if (mean < 0.7) continue;
      blocks.push_back({(square / n - mean * mean) / (mean * mean), mean});
    }
  }
  if (blocks.size() < 8) return 1;
  std::sort(blocks.begin(), blocks.end(), [](const Block& a, const Block& b) { return a.rough < b.rough; });
  const std::size_t n = std::max<std::size_t>(4, blocks.size() / 8);
  double calm = 0;
  for (std::size_t i = 0; i < n; ++i)
    calm += blocks[i].level / static_cast<double>(n);
  return calm;
}

cv::Mat local_paint(const PlanView& plan, const cv::Mat& x, double core_mm, double paint_spread) {
  const int side = std::max(4, static_cast<int>(std::lround(16 / plan.mm_per_pixel)));
  const int rows = (x.rows + side - 1) / side, cols = (x.cols + side - 1) / side;
  cv::Mat level(rows, cols, CV_32F, cv::Scalar(0)), width(rows, cols, CV_32F, cv::Scalar(0));
  std::vector<float> in, widths;
  for (int br = 0; br < rows; ++br) {
    for (int bc = 0; bc < cols; ++bc) {
      in.clear();
      for (int r = br * side; r < std::min(x.rows, (br + 1) * side); ++r) {
        for (int c = bc * side; c < std::min(x.cols, (bc + 1) * side); ++c) {
          if (in_core(plan, r, c, core_mm)) in.push_back(x.at<float>(r, c));
        }
      }
      if (in.size() < static_cast<std::size_t>(side * side) / 3) continue;
      std::sort(in.begin(), in.end());
      const auto at = [&](double share) {
        return in[static_cast<std::size_t>(share * static_cast<double>(in.size() - 1))];
      };
      const float upper = at(0.55);
      if (upper < 0.45F || upper > 1.7F) continue;
      level.at<float>(br, bc) = upper;
      width.at<float>(br, bc) = (at(0.85) - at(0.25)) / 1.71F;
      widths.push_back(width.at<float>(br, bc) / upper);
    }
  }
  if (widths.size() < 6) return cv::Mat(x.size(), CV_32F, cv::Scalar(1));
  const auto calm = widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 6);
  std::nth_element(widths.begin(), calm, widths.end());
  // Sound paint's own noise: what the calmest blocks show, never more than the mode's upper side allows.
  const double noise = std::clamp(std::min(static_cast<double>(*calm), paint_spread), 0.015, 0.07);
  cv::Mat weight = cv::Mat::zeros(rows, cols, CV_32F);
  double total = 0;
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const auto at = static_cast<double>(level.at<float>(r, c));
      if (at <= 0) continue;
      // Smooth: paint, be it dull. Mottled: worn, and says nothing of the paint's own level.
      const double rough = std::max(0.0, static_cast<double>(width.at<float>(r, c)) / (at * noise) - 1.25);
      const double sound = std::exp(-rough * rough / 0.6);
      // Far from the usual level counts less: a smooth grey patch may be sealed or overlaid.
      const double usual = std::exp(-std::pow((at - 1) / 0.4, 2));
      weight.at<float>(r, c) = static_cast<float>(sound * usual);
      total += sound * usual;
    }
  }
  if (total < 3) return cv::Mat(x.size(), CV_32F, cv::Scalar(1));
  // A weak pull to the usual level where no sound paint is near.
  cv::Mat pulled(rows, cols, CV_32F);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const float w = weight.at<float>(r, c);
      pulled.at<float>(r, c) = (w * level.at<float>(r, c) + 0.03F) / (w + 0.03F);
    }
  }
  const cv::Mat blended = carried(pulled, weight + 0.03F, side * plan.mm_per_pixel, 22);
  cv::Mat full;
  cv::resize(blended, full, {cols * side, rows * side}, 0, 0, cv::INTER_LINEAR);
  return full(cv::Rect(0, 0, x.cols, x.rows)).clone();
}

}  // namespace lotwear
