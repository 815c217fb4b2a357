#include "measure/older_coat.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {
namespace {

constexpr double kBlockMm = 4.5;

/// Colour of a block as log brightness over pavement and two shares, which weigh alike for paints.
cv::Vec3d look_of(const cv::Vec3d& ratio) {
  const double sum = std::max(1e-3, ratio[0] + ratio[1] + ratio[2]);
  return {std::log(sum / 3), 3 * ratio[0] / sum, 3 * ratio[2] / sum};
}

struct Blocks {
  int side = 1;
  cv::Mat look;   // CV_64FC3
  cv::Mat flat;   // CV_8U: smooth inside the marking
  cv::Mat ratio;  // CV_64FC3
};

Blocks blocks_of(const PlanView& plan, const cv::Mat& bare, double core_mm) {
  Blocks b;
  b.side = std::max(2, static_cast<int>(std::lround(kBlockMm / plan.mm_per_pixel)));
  const int rows = plan.light.rows / b.side, cols = plan.light.cols / b.side;
  b.look = cv::Mat::zeros(rows, cols, CV_64FC3), b.ratio = cv::Mat::zeros(rows, cols, CV_64FC3), b.flat = cv::Mat::zeros(rows, cols, CV_8U);
  for (int br = 0; br < rows; ++br) {
    for (int bc = 0; bc < cols; ++bc) {
      cv::Vec3d sum(0, 0, 0);
      double logs = 0, squares = 0;
      int n = 0;
      for (int r = br * b.side; r < (br + 1) * b.side; ++r) {
        for (int c = bc * b.side; c < (bc + 1) * b.side; ++c) {
          if (plan.ours.at<unsigned char>(r, c) == 0 || plan.inside_mm.at<float>(r, c) < static_cast<float>(core_mm)) continue;
          cv::Vec3d q;
          for (int k = 0; k < 3; ++k) q[k] = static_cast<double>(plan.light.at<cv::Vec3f>(r, c)[k] / std::max(1e-4F, bare.at<cv::Vec3f>(r, c)[k]));
          const double l = std::log(std::max(0.05, (q[0] + q[1] + q[2]) / 3));
          sum += q, logs += l, squares += l * l, ++n;
        }
      }
      if (n < b.side * b.side) continue;
      b.ratio.at<cv::Vec3d>(br, bc) = sum * (1.0 / n);
      b.look.at<cv::Vec3d>(br, bc) = look_of(sum * (1.0 / n));
      const double spread = std::sqrt(std::max(0.0, squares / n - logs * logs / n / n));
      b.flat.at<unsigned char>(br, bc) = spread < 0.12 ? 1 : 0;
    }
  }
  return b;
}

/// Two means of the looks; nothing when they are not two.
struct Pair {
  cv::Vec3d a, b;
  double apart = 0;      // distance over the spread within
  double share_b = 0;
};
std::optional<Pair> two_means(const std::vector<cv::Vec3d>& looks, const cv::Vec3d& weight, cv::Vec3d a, cv::Vec3d b) {
  const auto away = [&](const cv::Vec3d& u, const cv::Vec3d& v) {
    const cv::Vec3d d = u - v;
    return std::sqrt(weight[0] * d[0] * d[0] + weight[1] * d[1] * d[1] + weight[2] * d[2] * d[2]);
  };
  Pair pair;
  for (int turn = 0; turn < 15; ++turn) {
    cv::Vec3d sa(0, 0, 0), sb(0, 0, 0);
    double na = 0, nb = 0, within = 0;
    for (const cv::Vec3d& l : looks) {
      const double da = away(l, a), db = away(l, b);
      // Far from both: neither coat.
      if (std::min(da, db) > 0.35) continue;
      if (da <= db) sa += l, ++na;
      else sb += l, ++nb;
      within += std::min(0.04, std::pow(std::min(da, db), 2));
    }
    if (na < 6 || nb < 6) return std::nullopt;
    a = sa * (1 / na), b = sb * (1 / nb);
    pair = {a, b, away(a, b) / std::sqrt(within / (na + nb) + 1e-6), nb / (na + nb)};
  }
  return pair;
}

}  // namespace

std::optional<OlderCoat> find_older_coat(const PlanView& plan, const cv::Mat& bare, const Ratio& top, double core_mm, bool broken) {
  const Blocks b = blocks_of(plan, bare, core_mm);
  const cv::Vec3d top_look = look_of({top[0], top[1], top[2]}), bare_look = look_of({1, 1, 1});
  // Hue counts more than brightness, which soil and light change as well.
  const cv::Vec3d weight = broken ? cv::Vec3d(0.05, 1.0, 1.0) : cv::Vec3d(0.35, 1.0, 1.0);
  const auto away = [&](const cv::Vec3d& u, const cv::Vec3d& v) {
    const cv::Vec3d d = u - v;
    return std::sqrt(weight[0] * d[0] * d[0] + weight[1] * d[1] * d[1] + weight[2] * d[2] * d[2]);
  };
  std::vector<cv::Vec3d> looks;
  std::vector<std::pair<double, std::size_t>> from_top;
  for (int r = 0; r < b.look.rows; ++r) {
    for (int c = 0; c < b.look.cols; ++c) {
      if (b.flat.at<unsigned char>(r, c) == 0) continue;
      const cv::Vec3d l = b.look.at<cv::Vec3d>(r, c);
      // Paint of some kind: not bare, not between bare and the top coat in colour.
      if (away(l, bare_look) < 0.5 * away(top_look, bare_look) && std::abs(l[0]) < 0.25) continue;
      looks.push_back(l);
    }
  }
  if (looks.size() < 40) return std::nullopt;
  // Seeds: the top coat, and each tail of the looks around it.
  std::optional<OlderCoat> best;
  double best_apart = 0;
  for (int axis = 0; axis < 3; ++axis) {
    for (const double side : {-1.0, 1.0}) {
      std::vector<double> along;
      for (const cv::Vec3d& l : looks) along.push_back(side * (l[axis] - top_look[axis]));
      std::vector<double> sorted = along;
      const auto at = sorted.begin() + static_cast<std::ptrdiff_t>(0.97 * static_cast<double>(sorted.size() - 1));
      std::nth_element(sorted.begin(), at, sorted.end());
      cv::Vec3d seed(0, 0, 0);
      double n = 0;
      for (std::size_t i = 0; i < looks.size(); ++i) {
        if (along[i] >= *at) seed += looks[i], ++n;
      }
      const auto pair = two_means(looks, weight, top_look, seed * (1 / std::max(1.0, n)));
      if (!pair || pair->apart < 3.2 || pair->share_b < 0.015) continue;
      const cv::Vec3d gap = pair->b - pair->a;
      const double hue = std::hypot(gap[1], gap[2]);
      if (hue < 0.12 && (broken || std::abs(gap[0]) < 0.1)) continue;
      // On the way from bare to the top coat lies worn top coat, not another coat; its colour tells.
      cv::Vec3d ratio(0, 0, 0);
      double count = 0;
      double steps = 0, pairs = 0;
      cv::Mat label = cv::Mat::zeros(b.look.size(), CV_8U);
      for (int r = 0; r < b.look.rows; ++r) {
        for (int c = 0; c < b.look.cols; ++c) {
          if (b.flat.at<unsigned char>(r, c) == 0) continue;
          const cv::Vec3d l = b.look.at<cv::Vec3d>(r, c);
          const double da = away(l, pair->a), db = away(l, pair->b);
          if (std::min(da, db) > 0.35) continue;
          label.at<unsigned char>(r, c) = db < da ? 2 : 1;
          if (db < da && db < 0.2) ratio += b.ratio.at<cv::Vec3d>(r, c), ++count;
        }
      }
      if (count < 6) continue;
      ratio *= 1 / count;
      // Edges: how much of the whole step lies between blocks two apart across a border.
      const double whole = away(pair->a, pair->b);
      for (int r = 0; r < label.rows; ++r) {
        for (int c = 0; c < label.cols; ++c) {
          if (label.at<unsigned char>(r, c) != 2) continue;
          for (const auto& [dr, dc] : {std::pair{0, 2}, {2, 0}, {0, -2}, {-2, 0}}) {
            const int rr = r + dr, cc = c + dc;
            if (rr < 0 || cc < 0 || rr >= label.rows || cc >= label.cols || label.at<unsigned char>(rr, cc) != 1) continue;
            steps += away(b.look.at<cv::Vec3d>(r, c), b.look.at<cv::Vec3d>(rr, cc)) / whole;
            pairs += 1;
          }
        }
      }
      if (pairs < 4 || steps / pairs < 0.72) continue;
      if (hue < 0.12) {
        // Same hue: thin or half-worn top coat would lie anywhere between bare and paint; a coat is one level, well above bare.
        const double level = (ratio[1] - 1) / std::max(0.1, top[1] - 1);
        if (level < 0.3 || level > 0.95) continue;
      } else {
        // Pavement's hue is bare pavement, whatever its brightness.
        if (std::hypot(pair->b[1] - bare_look[1], pair->b[2] - bare_look[2]) < 0.1 && std::abs(pair->b[0]) < 0.3) continue;
      }
      if (pair->apart <= best_apart) continue;
      best_apart = pair->apart;
      OlderCoat older;
      older.over_pavement = {ratio[0], ratio[1], ratio[2]};
      cv::Mat isolated, smooth;
      cv::Mat is_older = label == 2;
      cv::medianBlur(is_older, smooth, 3);
      older.map = cv::Mat::zeros(plan.light.size(), CV_32F);
      cv::Mat near;
      cv::dilate(smooth, near, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
      double in = 0, got = 0;
      const cv::Vec3d older_look = pair->b, coat_look = pair->a;
      for (int r = 0; r < plan.light.rows; ++r) {
        for (int c = 0; c < plan.light.cols; ++c) {
          if (plan.ours.at<unsigned char>(r, c) == 0) continue;
          const bool core = plan.inside_mm.at<float>(r, c) >= static_cast<float>(core_mm);
          in += core ? 1 : 0;
          const int rr = std::min(r / b.side, near.rows - 1), cc = std::min(c / b.side, near.cols - 1);
          if (near.at<unsigned char>(rr, cc) == 0) continue;
          cv::Vec3d q;
          for (int k = 0; k < 3; ++k) q[k] = static_cast<double>(plan.light.at<cv::Vec3f>(r, c)[k] / std::max(1e-4F, bare.at<cv::Vec3f>(r, c)[k]));
          const cv::Vec3d l = look_of(q);
          const double to_older = away(l, older_look);
          if (to_older >= away(l, coat_look) || to_older >= away(l, bare_look)) continue;
          older.map.at<float>(r, c) = 1;
          got += core ? 1 : 0;
        }
      }
      older.share = in > 0 ? got / in : 0;
      if (older.share > 0.01) best = older;
    }
  }
  return best;
}

}  // namespace lotwear
