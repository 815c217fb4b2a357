#include "scoring/match.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "rendering/fill.hpp"

namespace lotwear::scoring {

namespace {

cv::Rect box_around(const std::vector<ImageRing>& rings, cv::Size photo) {
  double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
  for (const ImageRing& ring : rings) {
    for (const ImagePoint& p : ring) {
      left = std::min(left, p.x), right = std::max(right, p.x);
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    }
  }
  if (left > right) return {};
  const auto cell = [](double v, int high) {
    return static_cast<int>(std::clamp(std::floor(v), 0.0, static_cast<double>(high)));
  };
  const int c0 = cell(left, photo.width), c1 = cell(right + 1, photo.width);
  const int r0 = cell(top, photo.height), r1 = cell(bottom + 1, photo.height);
  return {c0, r0, c1 - c0, r1 - r0};
}

}  // namespace

Cover::Cover(const std::vector<ImageRing>& rings, cv::Size photo) : box_(box_around(rings, photo)) {
  if (box_.width <= 0 || box_.height <= 0) {
    box_ = {};
    return;
  }
  cv::Mat mask = cv::Mat::zeros(box_.size(), CV_8U);
  for (ImageRing ring : rings) {
    for (ImagePoint& p : ring)
      p = {p.x - box_.x, p.y - box_.y};
    rendering::fill(mask, ring, 1);
  }
  inside_.assign(mask.datastart, mask.dataend);
  area_ = cv::countNonZero(mask);
}

double Cover::shared(const Cover& other) const {
  const cv::Rect both = box_ & other.box_;
  double count = 0;
  for (int r = both.y; r < both.y + both.height; ++r) {
    const unsigned char* a = inside_.data() + static_cast<std::ptrdiff_t>(r - box_.y) * box_.width + (both.x - box_.x);
    const unsigned char* b = other.inside_.data() + static_cast<std::ptrdiff_t>(r - other.box_.y) * other.box_.width +
                             (both.x - other.box_.x);
    int row = 0;
    for (int c = 0; c < both.width; ++c)
      row += a[c] & b[c];
    count += row;
  }
  return count;
}

double overlap(const Cover& a, const Cover& b) {
  const double shared = a.shared(b), whole = a.area() + b.area() - shared;
  return whole > 0 ? shared / whole : 0;
}

std::vector<Pair> match(const std::vector<Cover>& truths, const std::vector<Cover>& markings, double least) {
  std::vector<Pair> all;
  for (std::size_t t = 0; t < truths.size(); ++t) {
    for (std::size_t m = 0; m < markings.size(); ++m) {
      const double share = overlap(truths[t], markings[m]);
      if (share >= least) all.push_back({t, m, share});
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Pair& a, const Pair& b) { return a.overlap > b.overlap; });
  std::vector<Pair> kept;
  for (const Pair& p : all) {
    const bool taken = std::any_of(kept.begin(), kept.end(),
                                   [&](const Pair& k) { return k.truth == p.truth || k.marking == p.marking; });
    if (!taken) kept.push_back(p);
  }
  return kept;
}

std::vector<std::size_t> false_alarms(const std::vector<Cover>& truths, const std::vector<Cover>& markings,
                                      const std::vector<Pair>& pairs, double least) {
  std::vector<std::size_t> out;
  for (std::size_t m = 0; m < markings.size(); ++m) {
    if (std::any_of(pairs.begin(), pairs.end(), [&](const Pair& p) { return p.marking == m; })) continue;
    double on_truth = 0;
    for (const Cover& truth : truths)
      on_truth += truth.shared(markings[m]);
    if (on_truth < least * markings[m].area() || markings[m].area() <= 0) out.push_back(m);
  }
  return out;
}

}  // namespace lotwear::scoring
