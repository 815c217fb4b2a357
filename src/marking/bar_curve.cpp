#include "marking/bar_curve.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace lotwear {
namespace {

constexpr int kColumns = 64;

/// Steps of a few columns, upward and downward ones apart; each row stands for the best of its neighbours.
class Steps {
 public:
  Steps(const cv::Mat& step, const cv::Mat& inside, int x0, int x1, int reach) : rows_(step.rows) {
    for (int i = 0; i < kColumns; ++i) {
      const double t = (i + 0.5) / kColumns;
      const int x = std::clamp(static_cast<int>(x0 + t * (x1 - x0)), 0, step.cols - 1);
      along_.push_back(t);
      std::vector<float> up(static_cast<std::size_t>(rows_)), down(up);
      for (int r = 0; r < rows_; ++r) {
        if (inside.at<uchar>(r, x) == 0) continue;
        up[static_cast<std::size_t>(r)] = eased_step(step.at<float>(r, x));
        down[static_cast<std::size_t>(r)] = eased_step(-step.at<float>(r, x));
      }
      up_.push_back(best_near(up, reach)), down_.push_back(best_near(down, reach));
    }
  }

  double score(double y0, double y1, double bow, double width) const {
    double sum = 0;
    for (std::size_t i = 0; i < along_.size(); ++i) {
      const double t = along_[i], y = y0 + (y1 - y0) * t + bow * 4 * t * (1 - t);
      // the weaker of the two: one strong edge, a kerb's or a shadow's, makes no stripe
      sum += static_cast<double>(std::min(at(up_[i], y - width / 2), at(down_[i], y + width / 2)));
    }
    return sum / static_cast<double>(along_.size());
  }

  double support(const FoundEdge& edge, bool upward) const {
    double seen = 0;
    for (std::size_t i = 0; i < along_.size(); ++i)
      seen += at((upward ? up_ : down_)[i], edge.at(along_[i])) > kClearStep ? 1 : 0;
    return seen / static_cast<double>(along_.size());
  }

 private:
  static std::vector<float> best_near(const std::vector<float>& in, int reach) {
    std::vector<float> out(in.size());
    for (std::size_t r = 0; r < in.size(); ++r) {
      const std::size_t from = r > static_cast<std::size_t>(reach) ? r - static_cast<std::size_t>(reach) : 0;
      const std::size_t to = std::min(in.size(), r + static_cast<std::size_t>(reach) + 1);
      out[r] = *std::max_element(in.begin() + static_cast<std::ptrdiff_t>(from), in.begin() + static_cast<std::ptrdiff_t>(to));
    }
    return out;
  }
  float at(const std::vector<float>& column, double y) const {
    const auto r = static_cast<int>(std::floor(y));
    return r < 0 || r >= rows_ ? 0.0F : column[static_cast<std::size_t>(r)];
  }

  int rows_ = 0;
  std::vector<double> along_;
  std::vector<std::vector<float>> up_, down_;
};

struct Curve {
  double y0 = 0, y1 = 0, bow = 0, width = 0, score = -1;
};

/// Every combination within `reach` of the curve, `step` apart.
Curve best_about(const Steps& steps, const Curve& from, double reach_ends, double reach_bow, double step, const std::vector<double>& widths) {
  Curve best = from;
  best.score = -1;
  for (const double width : widths) {
    for (double d0 = -reach_ends; d0 <= reach_ends + 1e-9; d0 += step) {
      for (double d1 = -reach_ends; d1 <= reach_ends + 1e-9; d1 += step) {
        for (double b = -reach_bow; b <= reach_bow + 1e-9; b += step) {
          const double score = steps.score(from.y0 + d0, from.y1 + d1, from.bow + b, width);
          if (score > best.score) best = {from.y0 + d0, from.y1 + d1, from.bow + b, width, score};
        }
      }
    }
  }
  return best;
}

}  // namespace

CurvedEdges search_curve(const cv::Mat& step, const cv::Mat& inside, int x0, int x1, double middle, double width) {
  const double grid = std::max(1.0, width / 5);
  Curve curve{middle, middle, 0, width, -1};
  curve = best_about(Steps(step, inside, x0, x1, static_cast<int>(grid / 2)), curve, 1.6 * width, 2 * width, grid,
                     {0.45 * width, 0.6 * width, 0.8 * width, width, 1.2 * width});
  for (double fine = grid / 2.5; fine > 0.3; fine /= 2.5) {
    const Steps steps(step, inside, x0, x1, std::max(0, static_cast<int>(fine / 2)));
    curve = best_about(steps, curve, 2 * fine, 2 * fine, fine, {curve.width - 2 * fine, curve.width - fine, curve.width, curve.width + fine, curve.width + 2 * fine});
  }
  CurvedEdges found;
  const double half = curve.width / 2;
  found.upper = {curve.y0 - half, curve.y1 - half, curve.bow, 0, 0, 0};
  found.lower = {curve.y0 + half, curve.y1 + half, curve.bow, 0, 0, 0};
  const double high = std::max({std::abs(curve.bow), std::abs(curve.y1 - curve.y0), 1.0});
  look_along(step, inside, {x0, x1, found.upper.y0, found.upper.y1, high, 0, 1}, found.upper);
  look_along(step, inside, {x0, x1, found.lower.y0, found.lower.y1, high, 0, -1}, found.lower);
  // a bend is no parabola: an edge two rows beside it is seen, and its scatter says how far beside
  const Steps near(step, inside, x0, x1, 2);
  found.upper.support = near.support(found.upper, true);
  found.lower.support = near.support(found.lower, false);
  found.score = score_along(step, inside, x0, x1, found.upper, found.lower);
  return found;
}

double score_along(const cv::Mat& step, const cv::Mat& inside, int x0, int x1, const FoundEdge& upper, const FoundEdge& lower) {
  double sum = 0;
  for (int i = 0; i < kColumns; ++i) {
    const double t = (i + 0.5) / kColumns;
    const int x = std::clamp(static_cast<int>(x0 + t * (x1 - x0)), 0, step.cols - 1);
    const auto near = [&](double y, float sign) {
      float best = 0;
      for (int d = -2; d <= 2; ++d) {
        const int r = static_cast<int>(std::floor(y)) + d;
        if (r >= 0 && r < step.rows && inside.at<uchar>(r, x) != 0) best = std::max(best, eased_step(sign * step.at<float>(r, x)));
      }
      return best;
    };
    sum += static_cast<double>(std::min(near(upper.at(t), 1), near(lower.at(t), -1)));
  }
  return sum / kColumns;
}

}  // namespace lotwear
