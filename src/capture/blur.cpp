#include "capture/blur.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <vector>

#include "capture/edge_profile.hpp"
#include "capture/step_fit.hpp"

namespace lotwear {
namespace {

constexpr int kFieldsAcross = 14, kFieldsDown = 10;
constexpr std::size_t kFewest = 5;          // edges, or pieces of ground: below that an odd one decides
constexpr double kFaintest = 6;             // encoded values; the noise of a photo is 1 to 4
constexpr double kOfStrong = 0.4;           // contrast, as a share of the strongest tenth's
constexpr double kClearish = 0.85;          // share of its variance that a plain step must explain in a profile
constexpr double kClear = 0.95;             // the same once the sharpening is known
constexpr double kMuchLess = 0.7;           // of the unexplained variance; the finer model always gains a little
constexpr std::size_t kForSharpening = 24;  // profiles
constexpr int kDirections = 4;
constexpr double kShaken = 1.4;  // times the overall blur; directions differ by less in a still photo
constexpr int kGroundHalf = 16;  // pixels: half the side of a piece of ground
constexpr double kRough = 20;    // squared encoded values; noise of 4, smeared over a pixel, gives as much

/// The place of strongest contrast in each field, with room for a patch around it.
std::vector<cv::Point> places_of_contrast(const cv::Mat& rgb, const Sample& sample) {
  std::vector<cv::Point> places;
  const int columns = sample.green.cols, rows = sample.green.rows;
  const cv::Rect room(Patch::kHalf, Patch::kHalf, rgb.cols - 2 * Patch::kHalf, rgb.rows - 2 * Patch::kHalf);
  if (room.width <= 0 || room.height <= 0) return places;
  for (int field = 0; field < kFieldsAcross * kFieldsDown; ++field) {
    const int across = field % kFieldsAcross, down = field / kFieldsAcross;
    int strongest = 0;
    cv::Point at;
    for (int j = std::max(1, rows * down / kFieldsDown); j < std::min(rows - 1, rows * (down + 1) / kFieldsDown); ++j) {
      const std::uint8_t* here = sample.green.ptr(j);
      const std::uint8_t* above = sample.green.ptr(j - 1);
      const std::uint8_t* below = sample.green.ptr(j + 1);
      for (int i = std::max(1, columns * across / kFieldsAcross);
           i < std::min(columns - 1, columns * (across + 1) / kFieldsAcross); ++i) {
        const int strength = std::abs(here[i + 1] - here[i - 1]) + std::abs(below[i] - above[i]);
        const cv::Point pixel(i * sample.step, j * sample.step);
        if (strength > strongest && room.contains(pixel)) {
          strongest = strength;
          at = pixel;
        }
      }
    }
    if (strongest > 0) places.push_back(at);
  }
  return places;
}

/// Mean squared difference of pixels that lie `step` apart.
double roughness(const Patch& patch, cv::Point step) {
  double sum = 0;
  for (int y = -kGroundHalf; y < kGroundHalf; ++y) {
    for (int x = -kGroundHalf; x < kGroundHalf; ++x) {
      const double difference = patch.at(x + step.x, y + step.y) - patch.at(x, y);
      sum += difference * difference;
    }
  }
  return sum / (4.0 * kGroundHalf * kGroundHalf);
}

/// The largest blur along `unit` under which ground can be as rough as this: grains finer than any blur, blurred by
/// sigma, differ over a distance by 1 - exp(-distance^2 / 4 sigma^2). Differences of that leave pixel noise out.
/// Nothing on smooth ground.
std::optional<double> bound_along(const Patch& patch, cv::Point unit) {
  for (const int scale : {1, 2}) {
    const double near = roughness(patch, unit * scale), middle = roughness(patch, unit * (2 * scale)),
                 far = roughness(patch, unit * (4 * scale));
    if (far - near < kRough) continue;
    const auto ratio_at = [](double sigma) {
      const auto alike = [&](double distance) { return std::exp(-distance * distance / (4 * sigma * sigma)); };
      return (alike(1) - alike(2)) / (alike(2) - alike(4));
    };
    const double ratio = (middle - near) / std::max(1e-9, far - middle);
    int index = 0;
    while (index < kSigmas && ratio_at(sigma_at(index)) > ratio)
      ++index;
    if (sigma_at(index) <= 2 || scale == 2) return scale * sigma_at(index);
  }
  return std::nullopt;
}

/// In the worse direction, so that a shake shows.
std::optional<double> ground_bound(const Patch& patch) {
  const auto across = bound_along(patch, {1, 0}), down = bound_along(patch, {0, 1});
  if (!across || !down) return std::nullopt;
  return std::max(*across, *down);
}

struct Candidate {
  EdgeProfile profile;
  StepFit plain;  ///< without sharpening
};

/// What the photo offers to judge by.
struct Evidence {
  std::vector<Candidate> edges;  ///< clearest first
  std::vector<double> bounds;    ///< pixels
};

Evidence gather(const cv::Mat& rgb, const Sample& sample) {
  Evidence evidence;
  std::vector<double> contrasts;
  const int search = std::clamp(sample.step * 3 / 2, 6, kMostSearch);
  for (const cv::Point place : places_of_contrast(rgb, sample)) {
    const Patch patch = cut_patch(rgb, place);
    if (const auto bound = ground_bound(patch)) evidence.bounds.push_back(*bound);
    const auto profile = strongest_profile(patch, search);
    if (!profile) continue;
    const StepFit fit = fit_step(*profile, 0);
    if (fit.contrast < kFaintest || fit.explained < kClearish) continue;
    evidence.edges.push_back({*profile, fit});
    contrasts.push_back(fit.contrast);
  }
  if (contrasts.empty()) return evidence;
  // Stones have faint edges too, and once blurred they read too sharp: they count only where nothing has more contrast.
  const auto strong = contrasts.begin() + static_cast<std::ptrdiff_t>(contrasts.size() * 9 / 10);
  std::nth_element(contrasts.begin(), strong, contrasts.end());
  std::erase_if(evidence.edges, [&](const Candidate& edge) { return edge.plain.contrast < kOfStrong * *strong; });
  std::stable_sort(evidence.edges.begin(), evidence.edges.end(), [](const Candidate& one, const Candidate& other) {
    return one.plain.residual < other.plain.residual;
  });
  return evidence;
}

/// The sharpening that explains the clearest profiles best; none unless it leaves much less unexplained than none does.
std::size_t find_sharpening(const std::vector<Candidate>& edges) {
  std::array<double, kSharpenings> left{};
  for (std::size_t number = 0; number < left.size(); ++number) {
    for (std::size_t edge = 0; edge < std::min(edges.size(), kForSharpening); ++edge) {
      left[number] += fit_step(edges[edge].profile, number).residual;
    }
  }
  const auto best = std::min_element(left.begin(), left.end());
  return *best < kMuchLess * left[0] ? static_cast<std::size_t>(best - left.begin()) : 0;
}

/// Nothing when there are too few.
std::optional<double> sharp_quarter(std::vector<double> sigmas) {
  if (sigmas.size() < kFewest) return std::nullopt;
  const auto at = sigmas.begin() + static_cast<std::ptrdiff_t>(sigmas.size() / 4);
  std::nth_element(sigmas.begin(), at, sigmas.end());
  return *at;
}

std::optional<double> blur_by_edges(const std::vector<Candidate>& edges) {
  const std::size_t sharpening = find_sharpening(edges);
  std::vector<double> all;
  std::array<std::vector<double>, kDirections> by_direction;
  for (const Candidate& edge : edges) {
    const StepFit fit = fit_step(edge.profile, sharpening);
    if (fit.explained < kClear) continue;
    all.push_back(fit.sigma);
    const long sector = std::lround(edge.profile.direction / std::numbers::pi * kDirections) + 2 * kDirections;
    by_direction[static_cast<std::size_t>(sector % kDirections)].push_back(fit.sigma);
  }
  const std::optional<double> overall = sharp_quarter(all);
  if (!overall) return std::nullopt;
  double worst = *overall;
  for (const std::vector<double>& sigmas : by_direction)
    worst = std::max(worst, sharp_quarter(sigmas).value_or(0));
  return worst > kShaken * *overall ? worst : *overall;
}

}  // namespace

std::optional<double> blur_of(const cv::Mat& rgb, const Sample& sample) {
  const Evidence evidence = gather(rgb, sample);
  const std::optional<double> edges = blur_by_edges(evidence.edges), ground = sharp_quarter(evidence.bounds);
  if (!edges || !ground) return edges ? edges : ground;
  return std::min(*edges, *ground);
}

}  // namespace lotwear
