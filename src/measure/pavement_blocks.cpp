#include "measure/pavement_blocks.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {
namespace {

int block_side(const PlanView& plan) {
  return std::max(3, static_cast<int>(std::lround(kBlockMm / plan.mm_per_pixel)));
}

}  // namespace

PavementBlocks pavement_blocks(const PlanView& plan) {
  PavementBlocks grid;
  grid.side = block_side(plan);
  const int rows = (plan.light.rows + grid.side - 1) / grid.side, cols = (plan.light.cols + grid.side - 1) / grid.side;
  grid.mean = cv::Mat::zeros(rows, cols, CV_32FC3);
  grid.share = cv::Mat::zeros(rows, cols, CV_32F);
  for (int r = 0; r < plan.light.rows; ++r) {
    const auto* light = plan.light.ptr<cv::Vec3f>(r);
    const auto* beside = plan.beside.ptr<unsigned char>(r);
    auto* mean = grid.mean.ptr<cv::Vec3f>(r / grid.side);
    float* share = grid.share.ptr<float>(r / grid.side);
    for (int c = 0; c < plan.light.cols; ++c) {
      if (beside[c] == 0) continue;
      mean[c / grid.side] += light[c];
      share[c / grid.side] += 1;
    }
  }
  const float whole = static_cast<float>(grid.side * grid.side);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const float n = grid.share.at<float>(r, c);
      if (n > 0) grid.mean.at<cv::Vec3f>(r, c) *= 1 / n;
      grid.share.at<float>(r, c) = n / whole;
    }
  }
  return grid;
}

}  // namespace lotwear
