#include "measure/causes.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {
namespace {

constexpr double kThinMm = 2.2;   // half width of what can be a crack
constexpr double kPatchMm = 3.0;  // half width of the smallest patch looked at by itself
constexpr double kStoneMm = 11;   // width at which a bare spot is as likely a flake as a worn stone top

cv::Mat disc(double radius_px) {
  const int r = std::max(1, static_cast<int>(std::lround(radius_px)));
  return cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * r + 1, 2 * r + 1});
}

struct Patch {
  double area_mm2 = 0, width_mm = 0, reach_mm = 0;
  double ring = 0, ring_n = 0;
  double evidence = 0;
  double likelihood = 0;
};

/// Thin long dark lines: what opening removes, kept where it is long.
cv::Mat find_cracks(const cv::Mat& lost, const cv::Mat& share, double mm) {
  cv::Mat open, thin;
  cv::morphologyEx(lost, open, cv::MORPH_OPEN, disc(kThinMm / mm));
  thin = lost & (1 - open);
  cv::Mat labels, stats, centres, cracks = cv::Mat::zeros(lost.size(), CV_8U);
  const int n = cv::connectedComponentsWithStats(thin, labels, stats, centres, 8, CV_32S);
  std::vector<char> keep(static_cast<std::size_t>(n), 0);
  std::vector<double> ring(static_cast<std::size_t>(n), 0), count(static_cast<std::size_t>(n), 0);
  for (int i = 1; i < n; ++i) {
    const double wide = stats.at<int>(i, cv::CC_STAT_WIDTH) * mm, high = stats.at<int>(i, cv::CC_STAT_HEIGHT) * mm;
    const double reach = std::hypot(wide, high), area = stats.at<int>(i, cv::CC_STAT_AREA) * mm * mm;
    // A network of worn stone tops fills its box; a crack does not.
    keep[static_cast<std::size_t>(i)] = reach > 45 && area / reach < 2.2 * kThinMm ? 1 : 0;
  }
  const int step = std::max(2, static_cast<int>(std::lround(7 / mm)));
  for (int r = 0; r < labels.rows; ++r) {
    for (int c = 0; c < labels.cols; ++c) {
      const int l = labels.at<int>(r, c);
      if (l == 0 || keep[static_cast<std::size_t>(l)] == 0) continue;
      for (const auto& [dr, dc] : {std::pair{step, 0}, {-step, 0}, {0, step}, {0, -step}}) {
        const int rr = r + dr, cc = c + dc;
        if (rr < 0 || cc < 0 || rr >= labels.rows || cc >= labels.cols || labels.at<int>(rr, cc) == l) continue;
        ring[static_cast<std::size_t>(l)] += static_cast<double>(std::clamp(share.at<float>(rr, cc), 0.0F, 1.0F));
        count[static_cast<std::size_t>(l)] += 1;
      }
    }
  }
  for (int r = 0; r < labels.rows; ++r) {
    for (int c = 0; c < labels.cols; ++c) {
      const auto l = static_cast<std::size_t>(labels.at<int>(r, c));
      if (l != 0 && keep[l] != 0 && count[l] > 0 && ring[l] / count[l] > 0.8) cracks.at<unsigned char>(r, c) = 1;
    }
  }
  return cracks;
}

}  // namespace

Causes find_causes(const PlanView& plan, const Separation& paint, const cv::Mat& flake_evidence) {
  const double mm = plan.mm_per_pixel;
  cv::Mat share;
  const double soft = std::max(0.6, 1.2 / mm);
  cv::GaussianBlur(paint.share, share, {}, soft, soft, cv::BORDER_REPLICATE);
  cv::Mat lost(share.size(), CV_8U);
  for (int r = 0; r < share.rows; ++r) {
    for (int c = 0; c < share.cols; ++c) {
      lost.at<unsigned char>(r, c) = plan.ours.at<unsigned char>(r, c) != 0 && share.at<float>(r, c) < 0.5F ? 1 : 0;
    }
  }
  Causes causes;
  causes.crack = find_cracks(lost, share, mm);
  cv::Mat open;
  cv::morphologyEx(lost, open, cv::MORPH_OPEN, disc(kPatchMm / mm));
  cv::Mat labels, stats, centres;
  const int n = cv::connectedComponentsWithStats(open, labels, stats, centres, 4, CV_32S);
  std::vector<Patch> patches(static_cast<std::size_t>(n));
  cv::Mat depth;
  cv::distanceTransform(open, depth, cv::DIST_L2, cv::DIST_MASK_3);
  // Nearest patch of every spot outside patches.
  cv::Mat away, nearest;
  cv::distanceTransform(1 - open, away, nearest, cv::DIST_L2, cv::DIST_MASK_5, cv::DIST_LABEL_CCOMP);
  std::vector<int> patch_of(static_cast<std::size_t>(n) + 2, 0);
  for (int r = 0; r < labels.rows; ++r) {
    for (int c = 0; c < labels.cols; ++c) {
      const int l = labels.at<int>(r, c);
      if (l == 0) continue;
      Patch& patch = patches[static_cast<std::size_t>(l)];
      patch.width_mm = std::max(patch.width_mm, (2.0 * static_cast<double>(depth.at<float>(r, c)) - 1) * mm);
      if (!flake_evidence.empty()) patch.evidence += static_cast<double>(flake_evidence.at<float>(r, c)) - 0.5;
      const auto id = static_cast<std::size_t>(nearest.at<int>(r, c));
      if (id >= patch_of.size()) patch_of.resize(id + 1, 0);
      patch_of[id] = l;
    }
  }
  const double from = 1.5 + plan.photo_px_mm, to = from + 7;
  for (int r = 0; r < labels.rows; ++r) {
    for (int c = 0; c < labels.cols; ++c) {
      const double d = static_cast<double>(away.at<float>(r, c)) * mm;
      if (d < from || d > to || plan.ours.at<unsigned char>(r, c) == 0) continue;
      const auto id = static_cast<std::size_t>(nearest.at<int>(r, c));
      if (id >= patch_of.size() || patch_of[id] == 0) continue;
      Patch& patch = patches[static_cast<std::size_t>(patch_of[id])];
      patch.ring += static_cast<double>(std::clamp(share.at<float>(r, c), 0.0F, 1.0F));
      patch.ring_n += 1;
    }
  }
  for (int i = 1; i < n; ++i) {
    Patch& patch = patches[static_cast<std::size_t>(i)];
    const double count = stats.at<int>(i, cv::CC_STAT_AREA);
    patch.area_mm2 = count * mm * mm;
    patch.reach_mm =
        std::hypot(stats.at<int>(i, cv::CC_STAT_WIDTH) * mm, stats.at<int>(i, cv::CC_STAT_HEIGHT) * mm) / 1.2;
    const double ring = patch.ring_n > 0 ? patch.ring / patch.ring_n : 0.5;
    const double logit = std::min(1.6, 2.2 * std::log(std::max(1.0, patch.width_mm) / kStoneMm)) + 12 * (ring - 0.68) +
                         3 * patch.evidence / std::max(1.0, count);
    patch.likelihood = 1 / (1 + std::exp(-logit));
  }
  // A patch owns the lost spots that opening shaved off its rim.
  causes.flake_likelihood = cv::Mat::zeros(share.size(), CV_32F);
  double abraded = 0, flaked = 0, cracked = 0, open_question = 0;
  std::vector<double> sizes(1, 0.0);
  for (int r = 0; r < labels.rows; ++r) {
    for (int c = 0; c < labels.cols; ++c) {
      if (plan.ours.at<unsigned char>(r, c) == 0) continue;
      const double gone = 1 - static_cast<double>(std::clamp(share.at<float>(r, c), 0.0F, 1.0F));
      // The paint's own noise is not loss; what is below a tenth is left out of the sharing.
      if (gone < 0.1) continue;
      if (causes.crack.at<unsigned char>(r, c) != 0) {
        cracked += gone;
        continue;
      }
      double likelihood = 0;
      if (static_cast<double>(away.at<float>(r, c)) * mm < kPatchMm) {
        const auto id = static_cast<std::size_t>(nearest.at<int>(r, c));
        const int l = labels.at<int>(r, c) != 0 ? labels.at<int>(r, c) : (id < patch_of.size() ? patch_of[id] : 0);
        if (l != 0) likelihood = patches[static_cast<std::size_t>(l)].likelihood;
      }
      causes.flake_likelihood.at<float>(r, c) = static_cast<float>(likelihood);
      flaked += gone * likelihood, abraded += gone * (1 - likelihood);
      open_question += gone * 4 * likelihood * (1 - likelihood);
    }
  }
  const double all = abraded + flaked + cracked;
  if (all > 0) {
    causes.loss = {Fraction{abraded / all}, Fraction{flaked / all}, Fraction{cracked / all}};
    causes.unsure = open_question / all;
  }
  // Largest size numerous enough to be typical: the size that a tenth of the flaked area exceeds.
  std::vector<std::pair<double, double>> by_size;
  double area = 0;
  for (int i = 1; i < n; ++i) {
    const Patch& patch = patches[static_cast<std::size_t>(i)];
    if (patch.likelihood < 0.5) continue;
    by_size.emplace_back(patch.reach_mm, patch.area_mm2);
    area += patch.area_mm2;
  }
  std::sort(by_size.begin(), by_size.end());
  double sum = 0, typical = 0;
  for (const auto& [reach, a] : by_size) {
    sum += a;
    typical = reach;
    if (sum >= 0.9 * area) break;
  }
  causes.typical_flake_mm = typical;
  return causes;
}

}  // namespace lotwear
