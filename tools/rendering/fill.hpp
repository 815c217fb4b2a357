#pragma once
// Which cells a ring covers, by their middles. OpenCV's fillPoly also takes the cells its outline runs through, which
// makes every figure half a cell too large all around: 2 % of a stripe's area at the cell sizes used here.

#include <algorithm>
#include <cmath>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "base/geometry.hpp"

namespace lotwear::rendering {

/// Sets the cells of `mask` (CV_8U) whose middle lies in the ring (even-odd) to `value`. Ring in cells: (0, 0) is the
/// outer corner of the first cell.
template <class Frame>
void fill(cv::Mat& mask, const Ring<Frame>& ring, unsigned char value) {
  double top = 1e18, bottom = -1e18;
  for (const Point<Frame>& p : ring)
    top = std::min(top, p.y), bottom = std::max(bottom, p.y);
  const auto first_at_least = [](double v, int high) {
    return static_cast<int>(std::clamp(std::ceil(v - 0.5), 0.0, static_cast<double>(high)));
  };
  std::vector<double> cuts;
  for (int r = first_at_least(top, mask.rows); r < first_at_least(bottom, mask.rows); ++r) {
    const double y = r + 0.5;
    cuts.clear();
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const Point<Frame> a = ring[i], b = ring[(i + 1) % ring.size()];
      if ((a.y <= y) != (b.y <= y)) cuts.push_back(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
    }
    std::sort(cuts.begin(), cuts.end());
    unsigned char* row = mask.ptr<unsigned char>(r);
    for (std::size_t i = 0; i + 1 < cuts.size(); i += 2) {
      const int from = first_at_least(cuts[i], mask.cols), to = first_at_least(cuts[i + 1], mask.cols);
      if (from < to) std::fill(row + from, row + to, value);
    }
  }
}

}  // namespace lotwear::rendering
