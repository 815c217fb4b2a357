#include "capture/edge_profile.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace lotwear {
namespace {

constexpr int kAlong = 4;         // pixels along the edge to each side: longer ones bend
constexpr int kBox = kReach + 1;  // holds all pixels within reach, whatever the direction: the corners are not needed

/// Sobel, encoded values a pixel.
cv::Point2d gradient(const Patch& patch, int x, int y) {
  const double a = patch.at(x - 1, y - 1), b = patch.at(x, y - 1), c = patch.at(x + 1, y - 1);
  const double d = patch.at(x - 1, y), e = patch.at(x + 1, y);
  const double f = patch.at(x - 1, y + 1), g = patch.at(x, y + 1), h = patch.at(x + 1, y + 1);
  return {(c + 2 * e + h - a - 2 * d - f) / 8, (f + 2 * g + h - a - 2 * b - c) / 8};
}

EdgeProfile bin_profile(const Patch& patch, cv::Point at, double direction, double offset) {
  EdgeProfile profile;
  profile.direction = direction;
  const double c = std::cos(direction), s = std::sin(direction);
  for (int dy = -kBox; dy <= kBox; ++dy) {
    for (int dx = -kBox; dx <= kBox; ++dx) {
      if (std::abs(dy * c - dx * s) > kAlong) continue;
      const double bin = (dx * c + dy * s - offset + kReach) * kPerPixel + 0.5;
      if (bin < 0 || bin >= kBins) continue;
      const auto index = static_cast<std::size_t>(bin);
      profile.value[index] += patch.at(at.x + dx, at.y + dy);
      profile.weight[index] += 1;
    }
  }
  for (std::size_t bin = 0; bin < kBins; ++bin) {
    if (profile.weight[bin] > 0) profile.value[bin] /= profile.weight[bin];
  }
  return profile;
}

double mean(const EdgeProfile& profile, int from, int to) {
  double sum = 0, weight = 0;
  for (int bin = from; bin <= to; ++bin) {
    const auto i = static_cast<std::size_t>(bin);
    sum += profile.value[i] * profile.weight[i];
    weight += profile.weight[i];
  }
  return weight > 0 ? sum / weight : 0;
}

/// Where the profile rises through the middle between its two sides, nearest to the centre; pixels.
double crossing(const EdgeProfile& profile) {
  constexpr int kMiddle = kBins / 2, kNear = 2 * kPerPixel, kFar = 6 * kPerPixel;
  const double level =
      0.5 * (mean(profile, kMiddle - kFar, kMiddle - kNear) + mean(profile, kMiddle + kNear, kMiddle + kFar));
  double best = 0, nearest = kReach;
  int before = -1;
  for (int bin = kMiddle - kFar; bin <= kMiddle + kFar; ++bin) {
    const auto i = static_cast<std::size_t>(bin);
    if (profile.weight[i] == 0) continue;
    if (before >= 0) {
      const double below = profile.value[static_cast<std::size_t>(before)] - level, above = profile.value[i] - level;
      const double d = (before + (bin - before) * below / (below - above)) / kPerPixel - kReach;
      if (below < 0 && above >= 0 && std::abs(d) < nearest) {
        nearest = std::abs(d);
        best = d;
      }
    }
    before = bin;
  }
  return best;
}

}  // namespace

Patch cut_patch(const cv::Mat& rgb, cv::Point centre) {
  Patch patch;
  std::size_t i = 0;
  for (int y = centre.y - Patch::kHalf; y <= centre.y + Patch::kHalf; ++y) {
    const std::uint8_t* green = rgb.ptr(y) + std::ptrdiff_t{3} * (centre.x - Patch::kHalf) + 1;
    for (int x = 0; x < Patch::kSide; ++x, green += 3)
      patch.green[i++] = *green;
  }
  return patch;
}

std::optional<EdgeProfile> strongest_profile(const Patch& patch, int search) {
  double strongest = 0;
  cv::Point at;
  for (int y = -search; y <= search; ++y) {
    for (int x = -search; x <= search; ++x) {
      const cv::Point2d g = gradient(patch, x, y);
      const double strength = g.x * g.x + g.y * g.y;
      if (strength > strongest) {
        strongest = strength;
        at = {x, y};
      }
    }
  }
  if (strongest == 0) return std::nullopt;
  // The direction by the structure tensor: one gradient is off by several degrees in noise.
  double xx = 0, xy = 0, yy = 0;
  cv::Point2d sum;
  for (int y = at.y - 3; y <= at.y + 3; ++y) {
    for (int x = at.x - 3; x <= at.x + 3; ++x) {
      const cv::Point2d g = gradient(patch, x, y);
      xx += g.x * g.x;
      xy += g.x * g.y;
      yy += g.y * g.y;
      sum += g;
    }
  }
  double direction = 0.5 * std::atan2(2 * xy, xx - yy);
  if (sum.x * std::cos(direction) + sum.y * std::sin(direction) < 0) direction += std::numbers::pi;
  return bin_profile(patch, at, direction, crossing(bin_profile(patch, at, direction, 0)));
}

}  // namespace lotwear
