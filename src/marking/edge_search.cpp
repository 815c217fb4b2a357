#include "marking/edge_search.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {

namespace {

constexpr float kCap = 0.12F;       // paintness per pixel: a clear step; more adds little, so shadows cannot outvote paint
constexpr float kClear = 0.03F;     // the least step, eased as below, that counts as seen: three times a phone photo's noise

struct Samples {
  std::vector<int> columns;
  cv::Mat step;
  const cv::Mat& inside;
  int sign;

  float at(int x, double y) const {
    const double row = y - 0.5;
    const int r = static_cast<int>(std::floor(row));
    if (r < 0 || r + 1 >= step.rows) return 0;
    if (inside.at<uchar>(r, x) == 0) return 0;
    const auto f = static_cast<float>(row - r);
    const float v = (step.at<float>(r, x) * (1 - f) + step.at<float>(r + 1, x) * f) * static_cast<float>(sign);
    // eased, not cut off: a flat top would leave the edge anywhere on it
    return v > 0 ? v / (1 + v / kCap) : 0.0F;
  }
};

double score(const Samples& samples, const EdgeGuess& guess, double y0, double y1, double bow) {
  double sum = 0;
  const double span = std::max(1, guess.x1 - guess.x0);
  for (const int x : samples.columns) {
    const double t = (x + 0.5 - guess.x0) / span;
    sum += static_cast<double>(samples.at(x, y0 + (y1 - y0) * t + bow * 4 * t * (1 - t)));
  }
  sum /= static_cast<double>(samples.columns.size());
  const double s = guess.prior_sigma;
  const double off = ((y0 - guess.y0) * (y0 - guess.y0) + (y1 - guess.y1) * (y1 - guess.y1)) / (2 * s * s);
  // the prior weighs like a faint edge: it decides only where the photo shows nothing
  return sum - 0.006 * off - 0.0004 * bow * bow;
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
  Samples samples{{}, step, inside, guess.sign};
  Samples coarse = samples;
  const int x0 = std::clamp(guess.x0, 0, step.cols - 1), x1 = std::clamp(guess.x1, x0 + 1, step.cols);
  const int stride = std::max(1, (x1 - x0) / 240);
  for (int x = x0; x < x1; x += stride) samples.columns.push_back(x);

  double y0 = guess.y0, y1 = guess.y1, bow = 0, best = score(samples, guess, y0, y1, bow);
  for (double reach = guess.window, grid = std::max(1.0, guess.window / 14); grid > 0.2;
       reach = 2 * grid, grid = grid > 1.0 ? std::max(1.0, grid / 4) : grid / 2.5) {
    const double c0 = y0, c1 = y1;
    // a step is three pixels wide: on a coarser grid every place stands for the best one within its cell
    const bool wide = grid > 1.5;
    if (wide) {
      const int tall = 2 * static_cast<int>(std::lround(grid / 2)) + 1;
      const cv::Mat upward = step * static_cast<double>(guess.sign);
      coarse.step = cv::Mat();   // its own pixels: the header still points at the steps themselves
      cv::dilate(upward, coarse.step, cv::getStructuringElement(cv::MORPH_RECT, {1, tall}));
      coarse.sign = 1;
      coarse.columns = samples.columns;
    }
    const Samples& looked_at = wide ? coarse : samples;
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
  std::vector<double> misses;
  const double span = std::max(1, guess.x1 - guess.x0);
  for (const int x : samples.columns) {
    const double y = edge.at((x + 0.5 - guess.x0) / span);
    float strongest = kClear;
    double where = 1e9;
    for (double d = -5; d <= 5; d += 0.5) {
      const float v = samples.at(x, y + d);
      if (v > strongest) strongest = v, where = d;
    }
    edge.strength += static_cast<double>(samples.at(x, y));
    if (where < 1e8) misses.push_back(std::abs(where));
    if (samples.at(x, y) > kClear) edge.support += 1;
  }
  edge.support /= static_cast<double>(samples.columns.size());
  edge.strength /= static_cast<double>(samples.columns.size());
  if (!misses.empty()) {
    std::nth_element(misses.begin(), misses.begin() + static_cast<std::ptrdiff_t>(misses.size() / 2), misses.end());
    edge.scatter = 1.48 * misses[misses.size() / 2];
  }
  return edge;
}

}  // namespace lotwear
