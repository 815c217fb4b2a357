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
  b.look = cv::Mat::zeros(rows, cols, CV_64FC3), b.ratio = cv::Mat::zeros(rows, cols, CV_64FC3),
  b.flat = cv::Mat::zeros(rows, cols, CV_8U);
  for (int br = 0; br < rows; ++br) {
    for (int bc = 0; bc < cols; ++bc) {
      cv::Vec3d sum(0, 0, 0);
      double logs = 0, squares = 0;
      int n = 0;
      for (int r = br * b.side; r < (br + 1) * b.side; ++r) {
        for (int c = bc * b.side; c < (bc + 1) * b.side; ++c) {
          if (plan.ours.at<unsigned char>(r, c) == 0 || plan.inside_mm.at<float>(r, c) < static_cast<float>(core_mm))
            continue;
          cv::Vec3d q;
          for (int k = 0; k < 3; ++k)
            q[k] =
                static_cast<double>(plan.light.at<cv::Vec3f>(r, c)[k] / std::max(1e-4F, bare.at<cv::Vec3f>(r, c)[k]));
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

/// Distance of two looks. Hue counts more than brightness, which soil and light change as well.
struct Metric {
  cv::Vec3d weight;
  double operator()(const cv::Vec3d& u, const cv::Vec3d& v) const {
    const cv::Vec3d d = u - v;
    return std::sqrt(weight[0] * d[0] * d[0] + weight[1] * d[1] * d[1] + weight[2] * d[2] * d[2]);
  }
};

/// Climbs to the densest place near `from`.
cv::Vec3d densest(const std::vector<cv::Vec3d>& looks, const Metric& away, cv::Vec3d from, double radius) {
  for (int turn = 0; turn < 12; ++turn) {
    cv::Vec3d sum(0, 0, 0);
    double n = 0;
    for (const cv::Vec3d& l : looks) {
      const double d = away(l, from) / radius;
      if (d < 1) sum += l * (1 - d * d), n += 1 - d * d;
    }
    if (n <= 0) return from;
    from = sum * (1 / n);
  }
  return from;
}

double count_near(const std::vector<cv::Vec3d>& looks, const Metric& away, const cv::Vec3d& at, double radius) {
  double n = 0;
  for (const cv::Vec3d& l : looks)
    n += away(l, at) < radius ? 1 : 0;
  return n;
}

}  // namespace

std::optional<OlderCoat> find_older_coat(const PlanView& plan, const cv::Mat& bare, const Ratio& top, double core_mm,
                                         bool broken) {
  const Blocks b = blocks_of(plan, bare, core_mm);
  const Metric away{broken ? cv::Vec3d(0.03, 1.0, 1.0) : cv::Vec3d(0.35, 1.0, 1.0)};
  const cv::Vec3d bare_look = look_of({1, 1, 1});
  std::vector<cv::Vec3d> looks;
  double all = 0;
  for (int r = 0; r < b.look.rows; ++r) {
    for (int c = 0; c < b.look.cols; ++c) {
      const cv::Vec3d l = b.look.at<cv::Vec3d>(r, c);
      if (l == cv::Vec3d(0, 0, 0)) continue;
      all += 1;
      if (b.flat.at<unsigned char>(r, c) != 0) looks.push_back(l);
    }
  }
  if (looks.size() < 40) return std::nullopt;
  const cv::Vec3d coat = densest(looks, away, look_of({top[0], top[1], top[2]}), 0.15);
  // The radius that holds two thirds of the sound top coat.
  double spread = 0.03;
  while (spread < 0.15 && count_near(looks, away, coat, spread) < 0.67 * count_near(looks, away, coat, 0.2))
    spread += 0.01;

  // Flat blocks that are neither top coat nor pavement; part-covered ones scatter, a coat gathers at one look.
  const double clear_of_coat = std::max(0.085, 2.2 * spread), clear_of_bare = 0.16;
  std::vector<cv::Vec3d> others;
  for (const cv::Vec3d& l : looks) {
    if (away(l, coat) > clear_of_coat && away(l, bare_look) > clear_of_bare) others.push_back(l);
  }
  if (static_cast<double>(others.size()) < std::max(12.0, 0.006 * all)) return std::nullopt;
  cv::Vec3d found(0, 0, 0);
  double most = 0;
  const std::size_t stride = std::max<std::size_t>(1, others.size() / 40);
  for (std::size_t i = 0; i < others.size(); i += stride) {
    const cv::Vec3d at = densest(others, away, others[i], 0.1);
    const double n = count_near(others, away, at, 0.08);
    if (n > most) most = n, found = at;
  }
  const double around = count_near(others, away, found, 0.22);
  const double hue = std::hypot(found[1] - coat[1], found[2] - coat[2]);
  const bool told_by_hue = hue > 0.1;
  if (!told_by_hue && (broken || found[0] > coat[0])) return std::nullopt;
  if (most < std::max(10.0, 0.005 * all) || most < 0.45 * around) return std::nullopt;
  // A coat of its own, not the tail of the top coat's looks: there is a valley between the two.
  double valley = 1e30;
  const double probe = std::clamp(0.3 * away(found, coat), 0.03, 0.08);
  for (double t = 0.25; t < 0.9; t += 0.05)
    valley = std::min(valley, count_near(looks, away, coat * (1 - t) + found * t, probe));
  const double peak = count_near(looks, away, found, probe);
  if (valley > 0.78 * peak) return std::nullopt;

  cv::Mat label = cv::Mat::zeros(b.look.size(), CV_8U);
  cv::Vec3d ratio(0, 0, 0);
  double count = 0, steps = 0, pairs = 0;
  const double whole = away(found, coat);
  for (int r = 0; r < b.look.rows; ++r) {
    for (int c = 0; c < b.look.cols; ++c) {
      if (b.flat.at<unsigned char>(r, c) == 0) continue;
      const cv::Vec3d l = b.look.at<cv::Vec3d>(r, c);
      if (away(l, found) < std::min(0.12, 0.5 * whole)) {
        label.at<unsigned char>(r, c) = 2;
        ratio += b.ratio.at<cv::Vec3d>(r, c), ++count;
      } else if (away(l, coat) < 0.5 * whole) {
        label.at<unsigned char>(r, c) = 1;
      }
    }
  }
  if (count < 8) return std::nullopt;
  ratio *= 1 / count;
  // An older coat ends where a flake ended: the whole step within two blocks. Soil and tyre film need longer.
  for (int r = 0; r < label.rows; ++r) {
    for (int c = 0; c < label.cols; ++c) {
      if (label.at<unsigned char>(r, c) != 2) continue;
      for (const auto& [dr, dc] : {std::pair{0, 1}, {1, 0}, {0, -1}, {-1, 0}}) {
        // The first block of top coat met within three steps.
        for (int k = 1; k <= 4; ++k) {
          const int rr = r + k * dr, cc = c + k * dc;
          if (rr < 0 || cc < 0 || rr >= label.rows || cc >= label.cols) break;
          const cv::Vec3d l = b.look.at<cv::Vec3d>(rr, cc);
          if (label.at<unsigned char>(rr, cc) == 2) break;
          if (k == 1) pairs += 1;
          if (k <= 2 && away(l, coat) < 0.3 * whole) {
            steps += 1;
            break;
          }
        }
      }
    }
  }
  if (steps < 6 || steps < 0.2 * pairs) return std::nullopt;

  OlderCoat older;
  older.over_pavement = {ratio[0], ratio[1], ratio[2]};
  const cv::Mat is_older = label == 2;
  cv::Mat near;
  cv::dilate(is_older, near, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
  older.map = cv::Mat::zeros(plan.light.size(), CV_32F);
  double in = 0, got = 0;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      if (plan.ours.at<unsigned char>(r, c) == 0) continue;
      const bool core = plan.inside_mm.at<float>(r, c) >= static_cast<float>(core_mm);
      in += core ? 1 : 0;
      const int rr = std::min(r / b.side, near.rows - 1), cc = std::min(c / b.side, near.cols - 1);
      if (near.at<unsigned char>(rr, cc) == 0) continue;
      cv::Vec3d q;
      for (int k = 0; k < 3; ++k) {
        q[k] = static_cast<double>(plan.light.at<cv::Vec3f>(r, c)[k] / std::max(1e-4F, bare.at<cv::Vec3f>(r, c)[k]));
      }
      const cv::Vec3d l = look_of(q);
      const double to_older = away(l, found);
      if (to_older >= away(l, coat) || to_older >= away(l, bare_look)) continue;
      older.map.at<float>(r, c) = 1;
      got += core ? 1 : 0;
    }
  }
  older.share = in > 0 ? got / in : 0;
  if (older.share < 0.008) return std::nullopt;
  return older;
}

}  // namespace lotwear
