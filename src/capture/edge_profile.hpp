#pragma once
// A small piece of the photo, and how its light rises across the strongest edge in it.

#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>

namespace lotwear {

constexpr int kReach = 12;    ///< pixels to each side of an edge: 1.5 sigma of the largest blur that is told apart
constexpr int kPerPixel = 2;  ///< bins; a bin smears the edge by 0.14 pixels, little beside 0.3
constexpr int kBins = 2 * kReach * kPerPixel + 1;
constexpr int kMostSearch = 20;  ///< pixels around a place in which its edge is looked for

using EdgeCurve = std::array<double, kBins>;  ///< by distance from the edge, -kReach to kReach pixels

struct EdgeProfile {
  EdgeCurve value{};     ///< mean encoded green
  EdgeCurve weight{};    ///< pixels in the bin
  double direction = 0;  ///< in which the light rises, radians
};

/// Encoded green of a square around a place.
struct Patch {
  static constexpr int kHalf = kMostSearch + kReach + 2;
  static constexpr int kSide = 2 * kHalf + 1;
  std::array<double, kSide * kSide> green{};
  double at(int x, int y) const { return green[static_cast<std::size_t>((y + kHalf) * kSide + x + kHalf)]; }
};

/// `centre` is at least Patch::kHalf pixels inside `rgb` (CV_8UC3).
Patch cut_patch(const cv::Mat& rgb, cv::Point centre);

/// Across the strongest gradient within `search` pixels of the centre; nothing on even ground. Pixels are binned by
/// their distance from the edge, which needs no interpolation, so nothing smooths the profile.
std::optional<EdgeProfile> strongest_profile(const Patch& patch, int search);

}  // namespace lotwear
