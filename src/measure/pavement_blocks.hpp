#pragma once
// The pavement beside a marking on a coarse grid: the mean light of each small block of the plan, and how much of the
// block is such pavement. The grid reaches past the plan's right and lower edge, to whole blocks.

#include <opencv2/core/mat.hpp>

#include "measure/plan_view.hpp"

namespace lotwear {

inline constexpr double kBlockMm = 8;           ///< smaller than the smallest dapple that can be seen as one
inline constexpr float kMostlyPavement = 0.6F;  ///< share of a block from which its mean is believed

struct PavementBlocks {
  int side = 1;   ///< of a block, plan pixels
  cv::Mat mean;   ///< CV_32FC3, mean light of the pavement pixels of the block; 0 where it has none
  cv::Mat share;  ///< CV_32F 0..1, share of the block that is pavement beside the marking
};
PavementBlocks pavement_blocks(const PlanView& plan);

}  // namespace lotwear
