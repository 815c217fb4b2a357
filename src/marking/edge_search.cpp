#include "marking/edge_search.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <vector>

namespace lotwear {

namespace {

/// The steps of a few columns near the guess, each column's rows side by side: what the search reads a million times.
class Samples {
 public:
  Samples(const cv::Mat& step, const cv::Mat& inside, const EdgeGuess& guess) {
    const int x0 = std::clamp(guess.x0, 0, step.cols - 1), x1 = std::clamp(guess.x1, x0 + 1, step.cols);
    const int stride = std::max(1, (x1 - x0) / 240);
    const double span = std::max(1, guess.x1 - guess.x0);
    for (int x = x0; x < x1; x += stride) along_.push_back((x + 0.5 - guess.x0) / span);
    // the search ends within 1.2 windows and a few pixels of the guess; its bow adds a few more
    const double reach = 1.4 * guess.window + 40;
    first_ = std::clamp(static_cast<int>(std::min(guess.y0, guess.y1) - reach), 0, step.rows - 1);
    const int end = std::clamp(static_cast<int>(std::max(guess.y0, guess.y1) + reach), first_ + 1, step.rows);
    rows_ = end - first_;
    values_.reserve(along_.size() * static_cast<std::size_t>(rows_));
    for (int x = x0; x < x1; x += stride) {
      for (int r = first_; r < end; ++r) {
        values_.push_back(step.at<float>(r, x) * static_cast<float>(guess.sign));
        seen_.push_back(inside.at<uchar>(r, x) != 0);
      }
    }
    fill_cells(values_);
  }

  /// Every place stands for the best one of `tall` rows around it.
  Samples coarser(int tall) const {
    Samples wide = *this;
    std::vector<float> best(values_.size());
    for (std::size_t column = 0; column < along_.size(); ++column) {
      const float* in = values_.data() + column * static_cast<std::size_t>(rows_);
      float* out = best.data() + column * static_cast<std::size_t>(rows_);
      for (int r = 0; r < rows_; ++r)
        out[r] = *std::max_element(in + std::max(0, r - tall / 2), in + std::min(rows_, r + tall / 2 + 1));
    }
    wide.fill_cells(best);
    return wide;
  }

  std::size_t size() const { return along_.size(); }
  double along(std::size_t column) const { return along_[column]; }
  float at(std::size_t column, double y) const {
    const double row = y - 0.5 - first_;
    if (!(row >= 0) || row >= rows_ - 1) return 0;
    const int r = static_cast<int>(row);
    const Cell& cell = cells_[column * static_cast<std::size_t>(rows_) + static_cast<std::size_t>(r)];
    return eased_step(cell.here + cell.rise * static_cast<float>(row - r));
  }

 private:
  struct Cell { float here = 0, rise = 0; };   ///< to the next row; nothing outside the photo

  void fill_cells(const std::vector<float>& values) {
    cells_.assign(values.size(), {});
    for (std::size_t i = 0; i + 1 < values.size(); ++i) {
      if (seen_[i]) cells_[i] = {values[i], values[i + 1] - values[i]};
    }
  }

  std::vector<double> along_;   // of the edge, 0 at x0 .. 1 at x1
  std::vector<float> values_;
  std::vector<bool> seen_;
  std::vector<Cell> cells_;
  int first_ = 0, rows_ = 0;
};

double score(const Samples& samples, const EdgeGuess& guess, double y0, double y1, double bow) {
  double sum = 0;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const double t = samples.along(i);
    sum += static_cast<double>(samples.at(i, y0 + (y1 - y0) * t + bow * 4 * t * (1 - t)));
  }
  sum /= static_cast<double>(samples.size());
  const double s = guess.prior_sigma;
  const double off = ((y0 - guess.y0) * (y0 - guess.y0) + (y1 - guess.y1) * (y1 - guess.y1)) / (2 * s * s);
  // the prior weighs like a faint edge: it decides only where the photo shows nothing
  return sum - 0.006 * off - 0.0004 * bow * bow;
}

void look_along(const Samples& samples, FoundEdge& edge) {
  edge.support = edge.strength = 0;
  std::vector<double> misses;
  for (std::size_t x = 0; x < samples.size(); ++x) {
    const double y = edge.at(samples.along(x));
    float strongest = kClearStep;
    double where = 1e9;
    for (double d = -5; d <= 5; d += 0.5) {
      const float v = samples.at(x, y + d);
      if (v > strongest) strongest = v, where = d;
    }
    edge.strength += static_cast<double>(samples.at(x, y));
    if (where < 1e8) misses.push_back(std::abs(where));
    if (samples.at(x, y) > kClearStep) edge.support += 1;
  }
  edge.support /= static_cast<double>(samples.size());
  edge.strength /= static_cast<double>(samples.size());
  if (!misses.empty()) {
    std::nth_element(misses.begin(), misses.begin() + static_cast<std::ptrdiff_t>(misses.size() / 2), misses.end());
    edge.scatter = 1.48 * misses[misses.size() / 2];
  }
}

}  // namespace

cv::Mat step_across(const cv::Mat& paintness, double sigma, double along) {
  cv::Mat smooth, step;
  const int ky = 2 * static_cast<int>(std::ceil(2.5 * sigma)) + 1, kx = 2 * static_cast<int>(std::ceil(2 * along)) + 1;
  cv::GaussianBlur(paintness, smooth, {kx, ky}, along, sigma, cv::BORDER_REPLICATE);
  const cv::Mat difference = (cv::Mat_<float>(3, 1) << -0.5F, 0.0F, 0.5F);
  cv::filter2D(smooth, step, CV_32F, difference, {-1, -1}, 0, cv::BORDER_REPLICATE);
  return step;
}

FoundEdge search_edge(const cv::Mat& step, const cv::Mat& inside, const EdgeGuess& guess) {
  const Samples samples(step, inside, guess);
  double y0 = guess.y0, y1 = guess.y1, bow = 0, best = score(samples, guess, y0, y1, bow);
  for (double reach = guess.window, grid = std::max(1.0, guess.window / 14); grid > 0.2;
       reach = 2 * grid, grid = grid > 1.0 ? std::max(1.0, grid / 4) : grid / 2.5) {
    const double c0 = y0, c1 = y1;
    // a step is three pixels wide: on a coarser grid every place stands for the best one within its cell
    std::optional<Samples> coarse;
    if (grid > 1.5) coarse = samples.coarser(2 * static_cast<int>(std::lround(grid / 2)) + 1);
    const Samples& looked_at = coarse ? *coarse : samples;
    best = score(looked_at, guess, c0, c1, bow);
    for (double d0 = -reach; d0 <= reach + 1e-9; d0 += grid) {
      for (double d1 = -reach; d1 <= reach + 1e-9; d1 += grid) {
        const double s = score(looked_at, guess, c0 + d0, c1 + d1, bow);
        if (s > best) best = s, y0 = c0 + d0, y1 = c1 + d1;
      }
    }
    if (guess.bend && grid <= 1.5) {
      const double centre = bow;
      for (double b = -4; b <= 4; b += 1) {
        const double s = score(samples, guess, y0, y1, centre + b * grid);
        if (s > best) best = s, bow = centre + b * grid;
      }
    }
  }

  FoundEdge edge{y0, y1, bow, 0, 0, 0};
  look_along(samples, edge);
  return edge;
}

void look_along(const cv::Mat& step, const cv::Mat& inside, const EdgeGuess& guess, FoundEdge& edge) {
  look_along(Samples(step, inside, guess), edge);
}

}  // namespace lotwear
