#include "marking/bar_gaps.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <utility>

namespace lotwear {
namespace {

constexpr int kLanes = 15;              // looked along, side by side across the stripe
constexpr double kRim = 0.12;           // of the width: the long edges' own blur
constexpr double kBare = 0.15, kSpeck = 0.35, kWhole = 0.6;  // of the stripe's paint over the pavement beside it
constexpr double kShortest = 0.4;       // of the width; no broken line has shorter gaps (common practice, no source)
constexpr double kShortestMm = 100;
constexpr int kLanesWithSpecks = 2;     // at most; the pavement's own bright stones
// How straight a cut is: lanes' ends about a straight line, one standard deviation. Flakes' rims wander by their own size.
constexpr double kStraightMm = 3, kStraightOfWidth = 0.02, kStraightPixels = 1.5;

/// Paint over the pavement beside the stripe, by lane and column; the stripe's own paint is 1.
class Lanes {
 public:
  Lanes(const Patch& patch, const FoundEdge& upper, const FoundEdge& lower, int x0, int x1) : first_(x0) {
    cv::Mat smooth;
    const double soft = std::clamp(4 / patch.frame.mm_per_pixel, 0.8, 4.0);
    cv::GaussianBlur(patch.paintness, smooth, {}, soft, soft, cv::BORDER_REPLICATE);
    const double span = std::max(1, x1 - x0);
    share_ = cv::Mat(kLanes, std::max(0, x1 - x0), CV_32F, cv::Scalar(0));
    for (int c = 0; c < share_.cols; ++c) {
      const double t = c / span, top = upper.at(t), width = lower.at(t) - top;
      const float above = at(smooth, top - 0.3 * width, x0 + c), below = at(smooth, top + 1.3 * width, x0 + c);
      for (int lane = 0; lane < kLanes; ++lane) {
        const double across = kRim + (1 - 2 * kRim) * (lane + 0.5) / kLanes;
        share_.at<float>(lane, c) = at(smooth, top + across * width, x0 + c) - std::min(above, below);
      }
    }
    std::vector<float> all(share_.begin<float>(), share_.end<float>());
    if (all.empty()) return;
    const auto whole = all.begin() + static_cast<std::ptrdiff_t>(0.8 * static_cast<double>(all.size() - 1));
    std::nth_element(all.begin(), whole, all.end());
    paint_ = *whole;
    if (paint_ > 0) share_ /= paint_;
  }

  int columns() const { return share_.cols; }
  int first() const { return first_; }
  bool shows_paint() const { return paint_ > 0.25F; }
  double mean(int column) const {
    double sum = 0;
    for (int lane = 0; lane < kLanes; ++lane) sum += static_cast<double>(share_.at<float>(lane, column));
    return sum / kLanes;
  }
  bool bare(int column) const {
    int specks = 0;
    for (int lane = 0; lane < kLanes; ++lane) specks += static_cast<double>(share_.at<float>(lane, column)) > kSpeck ? 1 : 0;
    return specks <= kLanesWithSpecks && mean(column) <= kBare;
  }
  float share(int lane, int column) const { return share_.at<float>(lane, column); }

 private:
  static float at(const cv::Mat& picture, double y, int x) {
    return picture.at<float>(std::clamp(static_cast<int>(y), 0, picture.rows - 1), std::clamp(x, 0, picture.cols - 1));
  }

  int first_ = 0;
  cv::Mat share_;
  float paint_ = 0;
};

/// Where the lanes pass half of whole paint on the way from `bare`, as the middle one has it; nothing where they do not end
/// in one straight cut with whole paint behind it.
std::optional<double> straight_cut(const Lanes& lanes, int bare, int way, double width, double straight) {
  std::vector<double> rows, ends;
  for (int lane = 0; lane < kLanes; ++lane) {
    for (int c = bare; c >= 0 && c < lanes.columns() && std::abs(c - bare) < width; c += way) {
      if (lanes.share(lane, c) < 0.5F) continue;
      rows.push_back(lane), ends.push_back(c);
      break;
    }
  }
  const auto n = static_cast<double>(ends.size());
  if (n < 0.85 * kLanes) return std::nullopt;
  double sx = 0, sy = 0, sxx = 0, sxy = 0;
  for (std::size_t i = 0; i < ends.size(); ++i)
    sx += rows[i], sy += ends[i], sxx += rows[i] * rows[i], sxy += rows[i] * ends[i];
  const double slope = (n * sxy - sx * sy) / (n * sxx - sx * sx), middle = (sy - slope * sx) / n + slope * (kLanes - 1) / 2;
  double off = 0;
  for (std::size_t i = 0; i < ends.size(); ++i) {
    const double d = ends[i] - middle - slope * (rows[i] - (kLanes - 1) / 2.0);
    off += d * d / n;
  }
  const double across = slope * kLanes / (1 - 2 * kRim);  // columns from one long edge to the other
  if (std::sqrt(off) > straight || std::abs(across) > 0.6 * width) return std::nullopt;
  double sum = 0, count = 0;
  const int from = static_cast<int>(middle) + way * static_cast<int>(0.05 * width + std::abs(across) / 2);
  for (int c = from; c >= 0 && c < lanes.columns() && std::abs(c - from) < 0.5 * width; c += way) sum += lanes.mean(c), count += 1;
  if (count < 0.25 * width || sum < kWhole * count) return std::nullopt;
  return middle;
}

/// Runs of bare columns, first to past the last; a bright stone or two do not end one.
std::vector<std::pair<int, int>> bare_runs(const Lanes& lanes, double width) {
  constexpr double kStone = 0.08;  // of the width
  std::vector<std::pair<int, int>> runs;
  for (int c = 0; c < lanes.columns();) {
    if (!lanes.bare(c)) {
      ++c;
      continue;
    }
    int end = c;
    while (end < lanes.columns() && lanes.bare(end)) ++end;
    const auto faint = [&](int from, int to) {
      for (int k = from; k < to; ++k) {
        if (lanes.mean(k) > 2 * kBare) return false;
      }
      return true;
    };
    if (!runs.empty() && c - runs.back().second < kStone * width && faint(runs.back().second, c))
      runs.back().second = end;
    else
      runs.emplace_back(c, end);
    c = end;
  }
  return runs;
}

}  // namespace

std::vector<Gap> unpainted_gaps(const Patch& patch, const FoundEdge& upper, const FoundEdge& lower, int x0, int x1) {
  const Lanes lanes(patch, upper, lower, x0, x1);
  if (!lanes.shows_paint()) return {};
  const double mm = patch.frame.mm_per_pixel, width = lower.at(0.5) - upper.at(0.5);
  const double shortest = std::max(kShortest * width, kShortestMm / mm);
  const double straight = std::max({kStraightMm / mm, kStraightOfWidth * width, kStraightPixels});
  std::vector<Gap> gaps;
  for (const auto& [from, to] : bare_runs(lanes, width)) {
    if (to - from < shortest || from == 0 || to == lanes.columns()) continue;
    const auto before = straight_cut(lanes, from, -1, width, straight), after = straight_cut(lanes, to - 1, 1, width, straight);
    if (before && after) gaps.push_back({lanes.first() + *before, lanes.first() + *after});
  }
  return gaps;
}

}  // namespace lotwear
