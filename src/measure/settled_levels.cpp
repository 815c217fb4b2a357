#include "measure/settled_levels.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <opencv2/core.hpp>
#include <vector>

#include "measure/wide_loops.hpp"

namespace lotwear {
namespace {

/// The sum of three, rows and columns changed over; in squares, as either order alone would miss the cache.
void turn_over(const BlockLevels& one, const BlockLevels& two, const BlockLevels& three, BlockLevels& to) {
  constexpr int kSide = 16;
  for (int top = 0; top < one.rows; top += kSide) {
    const int bottom = std::min(one.rows, top + kSide);
    for (int l = 0; l < one.levels; ++l) {
      for (int left = 0; left < one.cols; left += kSide) {
        const int right = std::min(one.cols, left + kSide);
        std::array<std::array<float, kSide>, kSide> sum{};
        for (int r = top; r < bottom; ++r) {
          const std::size_t at = static_cast<std::size_t>(r) * one.run() + static_cast<std::size_t>(l) * one.cols +
                                 static_cast<std::size_t>(left);
          auto& own = sum[static_cast<std::size_t>(r - top)];
          for (std::size_t c = 0; c < static_cast<std::size_t>(right - left); ++c)
            own[c] = one.values[at + c] + two.values[at + c] + three.values[at + c];
        }
        for (int c = left; c < right; ++c) {
          float* out = to.values.data() + static_cast<std::size_t>(c) * to.run() +
                       static_cast<std::size_t>(l) * to.cols + static_cast<std::size_t>(top);
          for (std::size_t r = 0; r < static_cast<std::size_t>(bottom - top); ++r)
            out[r] = sum[r][static_cast<std::size_t>(c - left)];
        }
      }
    }
  }
}

/// One message from every block of a row to its neighbour in the next: the least cost of each level there, where a step
/// of a level costs `slope` and any number of them `most`.
LOTWEAR_WIDE void pass_on(const float* own, const float* in, float* out, float* sum, float* least, int cols, int levels,
                          float slope, float most) {
  const auto n = static_cast<std::size_t>(cols), k = static_cast<std::size_t>(levels);
  for (std::size_t i = 0; i < n * k; ++i)
    sum[i] = own[i] + in[i];
  for (std::size_t c = 0; c < n; ++c)
    least[c] = sum[c];
  for (std::size_t l = 1; l < k; ++l) {
    float *here = sum + l * n, *before = here - n;
    for (std::size_t c = 0; c < n; ++c) {
      least[c] = here[c] < least[c] ? here[c] : least[c];
      const float stepped = before[c] + slope;
      here[c] = stepped < here[c] ? stepped : here[c];
    }
  }
  for (std::size_t l = k; l-- > 0;) {
    float *here = sum + l * n, *after = here + n, *to = out + l * n;
    if (l + 1 < k) {
      for (std::size_t c = 0; c < n; ++c) {
        const float stepped = after[c] + slope;
        here[c] = stepped < here[c] ? stepped : here[c];
      }
    }
    for (std::size_t c = 0; c < n; ++c) {
      const float limit = least[c] + most;
      to[c] = (here[c] < limit ? here[c] : limit) - least[c];
    }
  }
}

/// Messages down and up the rows, each way with what came in along that way before.
void sweep(const BlockLevels& own, BlockLevels& from_above, BlockLevels& from_below, float slope, float most) {
  std::vector<float> sum(own.run()), least(static_cast<std::size_t>(own.cols));
  for (int r = 0; r + 1 < own.rows; ++r)
    pass_on(own.row(r), from_above.row(r), from_above.row(r + 1), sum.data(), least.data(), own.cols, own.levels, slope,
            most);
  for (int r = own.rows - 1; r > 0; --r)
    pass_on(own.row(r), from_below.row(r), from_below.row(r - 1), sum.data(), least.data(), own.cols, own.levels, slope,
            most);
}

/// The least cost of every block of a row.
void cheapest(const float* costs, int cols, int levels, float* least) {
  const auto n = static_cast<std::size_t>(cols);
  std::copy(costs, costs + n, least);
  for (std::size_t l = 1; l < static_cast<std::size_t>(levels); ++l) {
    for (std::size_t c = 0; c < n; ++c)
      least[c] = std::min(least[c], costs[l * n + c]);
  }
}

/// The mean level of every block, each weighted by how little it costs beyond the cheapest; `sums` is spent.
cv::Mat expected_levels(BlockLevels& sums) {
  const int rows = sums.rows, cols = sums.cols, k = sums.levels;
  cv::Mat level(rows, cols, CV_32F);
  std::vector<float> least(static_cast<std::size_t>(cols)), all(least.size()), mean(least.size());
  for (int r = 0; r < rows; ++r) {
    float* const own = sums.row(r);
    cheapest(own, cols, k, least.data());
    for (int l = 0; l < k; ++l) {
      float* const here = own + static_cast<std::size_t>(l) * static_cast<std::size_t>(cols);
      for (std::size_t c = 0; c < least.size(); ++c)
        here[c] = std::max(-2.0F * (here[c] - least[c]), -40.0F);
    }
    const cv::Mat weights(1, cols * k, CV_32F, own);
    cv::exp(weights, weights);
    std::fill(all.begin(), all.end(), 0.0F);
    std::fill(mean.begin(), mean.end(), 0.0F);
    for (int l = 0; l < k; ++l) {
      const float* const here = own + static_cast<std::size_t>(l) * static_cast<std::size_t>(cols);
      for (std::size_t c = 0; c < least.size(); ++c)
        all[c] += here[c], mean[c] += here[c] * static_cast<float>(l);
    }
    for (int c = 0; c < cols; ++c)
      level.at<float>(r, c) = mean[static_cast<std::size_t>(c)] / all[static_cast<std::size_t>(c)];
  }
  return level;
}

}  // namespace

// Rows do not speak to each other while messages run along them, so a sweep carries a whole column of blocks at once:
// for those along the rows everything is turned over.
cv::Mat settled_levels(const BlockLevels& costs, double step, int turns) {
  const int rows = costs.rows, cols = costs.cols, k = costs.levels;
  const auto slope = static_cast<float>(0.55 * step / 0.14), most = 2.2F;
  BlockLevels left(cols, rows, k), right(cols, rows, k), above(rows, cols, k), below(rows, cols, k);
  BlockLevels over(cols, rows, k), along(cols, rows, k), across(rows, cols, k);
  turn_over(costs, above, below, over);  // no messages yet
  for (int turn = 0; turn < turns; ++turn) {
    if (turn > 0) turn_over(costs, above, below, along);
    sweep(turn > 0 ? along : over, left, right, slope, most);
    turn_over(over, left, right, across);
    sweep(across, above, below, slope, most);
  }
  BlockLevels& sum = across;
  for (std::size_t i = 0; i < sum.values.size(); ++i)
    sum.values[i] += above.values[i] + below.values[i];
  return expected_levels(sum);
}

}  // namespace lotwear
