#include "marking/map_agreement.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {

MapAgreement::MapAgreement(const cv::Mat& footprint, const cv::Mat& inside)
    : cols_(footprint.cols),
      map_rows_(footprint.rows),
      margin_rows_(footprint.rows / 2),
      reach_(static_cast<float>(footprint.cols) / 2),
      rows_(static_cast<std::size_t>(footprint.rows + 2 * (footprint.rows / 2))) {
  sums_.reserve(static_cast<std::size_t>(map_rows_) * static_cast<std::size_t>(cols_ + 1));
  for (int r = 0; r < footprint.rows; ++r) {
    Sum sum;
    sums_.push_back(sum);
    for (int c = 0; c < cols_; ++c) {
      // what lies outside the photo speaks neither for nor against
      const bool seen = inside.at<uchar>(r, c) != 0;
      sum.map += seen ? footprint.at<float>(r, c) : 0.0F;
      sum.seen += seen ? 1.0F : 0.0F;
      sums_.push_back(sum);
    }
    total_ += static_cast<double>(sum.map);
  }
}

double MapAgreement::of(const std::vector<PatchRing>& rings) {
  for (auto& row : rows_)
    row.clear();
  double all = 0;
  for (const PatchRing& ring : rings) {
    const double around = signed_area(ring);
    cross_rows(ring, around > 0 ? 1 : -1);
    all += std::abs(around);
  }
  double both = 0, own = 0;
  for (std::size_t r = 0; r < rows_.size(); ++r) {
    std::vector<Crossing>& row = rows_[r];
    // a handful, nearly in order
    for (std::size_t i = 1; i < row.size(); ++i) {
      for (std::size_t k = i; k > 0 && row[k].x < row[k - 1].x; --k)
        std::swap(row[k], row[k - 1]);
    }
    int deep = 0;
    for (std::size_t i = 0; i < row.size(); ++i) {
      const int before = deep;
      deep += row[i].turn;
      if (before <= 0 && deep > 0) {
        const Sum sum = sum_to(r, row[i].x - kReach);
        both -= static_cast<double>(sum.map), own -= static_cast<double>(sum.seen);
      } else if (before > 0 && deep <= 0) {
        const Sum sum = sum_to(r, row[i].x + kReach);
        both += static_cast<double>(sum.map), own += static_cast<double>(sum.seen);
      }
    }
  }
  const double hidden = std::clamp(1 - own / std::max(1e-9, all), 0.0, 1.0);
  return both / std::max(1e-9, total_ + own - both) - kHiddenCost * hidden;
}

void MapAgreement::cross_rows(const PatchRing& ring, int inward) {
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const PatchPoint a = ring[i], b = ring[i + 1 < ring.size() ? i + 1 : 0];
    const double low = std::min(a.y, b.y) - 0.5 + margin_rows_, high = std::max(a.y, b.y) - 0.5 + margin_rows_;
    const int from = static_cast<int>(std::ceil(std::max(low, 0.0))),
              to = static_cast<int>(std::ceil(std::min(high, static_cast<double>(rows_.size()))));
    if (from >= to) continue;
    const double slope = (b.x - a.x) / (b.y - a.y);
    // a ring that turns towards +y first runs up along its left side
    const int turn = (b.y > a.y ? -1 : 1) * inward;
    for (int r = from; r < to; ++r)
      rows_[static_cast<std::size_t>(r)].push_back(
          {static_cast<float>(a.x + (r - margin_rows_ + 0.5 - a.y) * slope), turn});
  }
}

MapAgreement::Sum MapAgreement::sum_to(std::size_t row, float x) const {
  const int map_row = static_cast<int>(row) - margin_rows_;
  const int r = std::clamp(map_row, 0, map_rows_ - 1);
  const float at = std::clamp(x, 0.0F, static_cast<float>(cols_) - 0.001F);
  const int c = static_cast<int>(at);
  const float part = at - static_cast<float>(c);
  const Sum* line = sums_.data() + static_cast<std::size_t>(r) * static_cast<std::size_t>(cols_ + 1);
  const Sum *sum = line + c, *last = line + cols_;
  Sum here{sum[0].map + part * (sum[1].map - sum[0].map), sum[0].seen + part * (sum[1].seen - sum[0].seen)};
  if (x < 0) here.seen += std::max(x, -reach_) * line[1].seen;
  if (x > at) here.seen += std::min(x - at, reach_) * (last->seen - last[-1].seen);
  if (r != map_row) here.map = 0;
  return here;
}

cv::Mat shrunk(const cv::Mat& map, double pixels) {
  const double by = std::min(1.0, pixels / std::max(map.cols, map.rows));
  cv::Mat small;
  cv::resize(map, small,
             {std::max(8, static_cast<int>(std::lround(map.cols * by))),
              std::max(8, static_cast<int>(std::lround(map.rows * by)))},
             0, 0, cv::INTER_AREA);
  return small;
}

}  // namespace lotwear
