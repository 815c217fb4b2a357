// A light level for every block: neighbours agree, a shadow's edge stays.
#include "measure/settled_levels.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>

namespace lotwear {
namespace {

constexpr int kRows = 6, kCols = 9, kLevels = 4;

void want(BlockLevels& costs, int r, int c, int level, float a_level) {
  for (int l = 0; l < costs.levels; ++l)
    costs.row(r)[static_cast<std::size_t>(l) * costs.cols + c] = a_level * static_cast<float>(std::abs(l - level));
}

BlockLevels all_want(int level, float a_level) {
  BlockLevels costs(kRows, kCols, kLevels);
  for (int r = 0; r < kRows; ++r) {
    for (int c = 0; c < kCols; ++c)
      want(costs, r, c, level, a_level);
  }
  return costs;
}

TEST(SettledLevels, KeepsWhatAllBlocksSay) {
  const cv::Mat level = settled_levels(all_want(2, 4), 0.14, 3);
  ASSERT_EQ(level.size(), cv::Size(kCols, kRows));
  for (int r = 0; r < kRows; ++r) {
    for (int c = 0; c < kCols; ++c)
      EXPECT_NEAR(level.at<float>(r, c), 2, 0.02);
  }
}

TEST(SettledLevels, ABlockInDoubtFollowsItsNeighbours) {
  BlockLevels costs = all_want(1, 4);
  want(costs, 3, 4, 0, 0);     // says nothing
  want(costs, 1, 2, 3, 0.2F);  // says something else, softly
  const cv::Mat level = settled_levels(costs, 0.14, 3);
  EXPECT_NEAR(level.at<float>(3, 4), 1, 0.1);
  EXPECT_NEAR(level.at<float>(1, 2), 1, 0.1);
}

TEST(SettledLevels, AShadowsEdgeStaysSharpWhicheverWayItRuns) {
  for (const bool upright : {true, false}) {
    BlockLevels costs = all_want(0, 4);
    for (int r = 0; r < kRows; ++r) {
      for (int c = 0; c < kCols; ++c) {
        if (upright ? c >= 5 : r >= 3) want(costs, r, c, 3, 4);
      }
    }
    const cv::Mat level = settled_levels(costs, 0.14, 3);
    for (int r = 0; r < kRows; ++r) {
      for (int c = 0; c < kCols; ++c)
        EXPECT_NEAR(level.at<float>(r, c), (upright ? c >= 5 : r >= 3) ? 3 : 0, 0.05)
            << upright << ' ' << r << ' ' << c;
    }
  }
}

}  // namespace
}  // namespace lotwear
