#include "marking/straight_runs.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <tuple>
#include <vector>

namespace lotwear {

namespace {

/// Which pixel of one picture lies at a pixel of another: as cv::warpAffine finds the nearest one, in 1024ths of a
/// pixel.
class NearestPixel {
 public:
  NearestPixel(const cv::Mat& map, int cols) : m_(map.ptr<double>(), map.ptr<double>() + 6) {
    for (int x = 0; x < cols; ++x) {
      right_x_.push_back(cv::saturate_cast<int>(m_[0] * x * kUnit));
      right_y_.push_back(cv::saturate_cast<int>(m_[3] * x * kUnit));
    }
  }

  /// One row of the other picture.
  struct Row {
    int x = 0, y = 0;
  };
  Row row(int y) const {
    return {cv::saturate_cast<int>((m_[1] * y + m_[2]) * kUnit) + kUnit / 2,
            cv::saturate_cast<int>((m_[4] * y + m_[5]) * kUnit) + kUnit / 2};
  }
  cv::Point at(Row row, int x) const {
    const auto i = static_cast<std::size_t>(x);
    return {(row.x + right_x_[i]) >> kBits, (row.y + right_y_[i]) >> kBits};
  }
  /// Columns of a row outside of which no pixel of a picture of `size` lies.
  cv::Range columns(int y, cv::Size size) const {
    double first = 0, last = static_cast<double>(right_x_.size());
    for (const auto& [rise, start, side] :
         {std::tuple{m_[0], m_[1] * y + m_[2], size.width}, std::tuple{m_[3], m_[4] * y + m_[5], size.height}}) {
      if (std::abs(rise) < 1e-6) continue;
      const double a = (-kSlack - start) / rise, b = (side + kSlack - start) / rise;
      first = std::max(first, std::min(a, b)), last = std::min(last, std::max(a, b));
    }
    return first < last ? cv::Range(static_cast<int>(first), static_cast<int>(std::ceil(last))) : cv::Range(0, 0);
  }

 private:
  static constexpr int kBits = 10, kUnit = 1 << kBits;
  static constexpr double kSlack = 2;  // pixels
  std::vector<double> m_;
  std::vector<int> right_x_, right_y_;
};

/// Lengths of the runs along the rows of the turned mask. Most of the square around it is empty: only where the mask
/// comes to lie is looked at.
cv::Mat runs_along_rows(const cv::Mat& mask, const NearestPixel& mask_at, int side) {
  cv::Mat length(side, side, CV_16U, cv::Scalar(0));
  const cv::Rect whole({0, 0}, mask.size());
  for (int r = 0; r < side; ++r) {
    const NearestPixel::Row row = mask_at.row(r);
    const cv::Range columns = mask_at.columns(r, mask.size());
    auto* out = length.ptr<ushort>(r);
    int from = -1;
    for (int c = columns.start; c <= columns.end; ++c) {
      bool set = false;
      if (c < columns.end) {
        const cv::Point at = mask_at.at(row, c);
        set = whole.contains(at) && mask.at<uchar>(at) != 0;
      }
      if (set && from < 0) from = c;
      if (!set && from >= 0) {
        std::fill(out + from, out + c, static_cast<ushort>(c - from));
        from = -1;
      }
    }
  }
  return length;
}

}  // namespace

Runs straight_runs(const cv::Mat& mask) {
  Runs runs{{}, cv::Mat(mask.size(), CV_16U, cv::Scalar(0)), cv::Mat(mask.size(), CV_8U, cv::Scalar(0))};
  const int side = static_cast<int>(std::ceil(std::hypot(mask.cols, mask.rows))) + 2;
  const cv::Rect square(0, 0, side, side);
  for (int k = 0; k < kDirections; ++k) {
    cv::Mat turn = cv::getRotationMatrix2D(
                cv::Point2f(static_cast<float>(mask.cols) / 2, static_cast<float>(mask.rows) / 2),
                180.0 * k / kDirections, 1),
            back;
    turn.at<double>(0, 2) += side / 2.0 - mask.cols / 2.0;
    turn.at<double>(1, 2) += side / 2.0 - mask.rows / 2.0;
    cv::invertAffineTransform(turn, back);
    const cv::Mat length = runs_along_rows(mask, NearestPixel(back, side), side);
    const NearestPixel turned_at(turn, mask.cols);
    cv::Mat& along = runs.along[static_cast<std::size_t>(k)];
    along = cv::Mat(mask.size(), CV_16U, cv::Scalar(0));
    for (int r = 0; r < mask.rows; ++r) {
      const NearestPixel::Row row = turned_at.row(r);
      const auto* own = mask.ptr<uchar>(r);
      auto *out = along.ptr<ushort>(r), *longest = runs.longest.ptr<ushort>(r);
      auto* direction = runs.direction.ptr<uchar>(r);
      for (int c = 0; c < mask.cols; ++c) {
        if (own[c] == 0) continue;
        const cv::Point at = turned_at.at(row, c);
        if (!square.contains(at)) continue;
        out[c] = length.at<ushort>(at);
        if (out[c] > longest[c]) longest[c] = out[c], direction[c] = static_cast<uchar>(k);
      }
    }
  }
  return runs;
}

}  // namespace lotwear
