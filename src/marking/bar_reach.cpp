#include "marking/bar_reach.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "marking/patch.hpp"

namespace lotwear {
namespace {

constexpr double kPatchPixels = 0.25e6;
constexpr double kFarthest = 6000, kAtLeast = 1500, kOfLength = 1.5;  // mm looked at beyond an end
constexpr double kFewestPixels = 5;                  // photo pixels across; narrower is not told from pavement
constexpr double kStandsOut = 0.3;                   // of the bar's own contrast: shade halves it, in encoded light
constexpr double kLeastContrast = 0.1;               // of paint over pavement, to be no chance of the pavement's grain
constexpr double kGap = 1.5;                         // widths worn through, at most
constexpr double kShortest = 0.6, kShortestMm = 80;  // widths that must follow, and mm
constexpr double kPainted = 0.7;                     // of what follows
constexpr double kMostUneven = 0.35;                 // of the contrast: how far the two sides' pavement may differ

/// How far a walk from an end stays in the photo, in front of the camera and wide enough, mm.
double in_sight(const GroundPoint from, const GroundPoint along, double width_mm, double farthest, const Photo& photo,
                const Ground& ground) {
  constexpr double kStep = 50;
  const GroundPoint side = GroundPoint{-along.y, along.x} * (width_mm / 2);
  const auto shown = [&](double at) {
    const GroundPoint a = from + along * at - side, b = from + along * at + side;
    if (ground.image_from_ground.depth(a) <= 0 || ground.image_from_ground.depth(b) <= 0) return false;
    const ImagePoint p = ground.image_from_ground(a), q = ground.image_from_ground(b);
    const auto within = [&](ImagePoint i) {
      return i.x >= 0 && i.y >= 0 && i.x <= photo.rgb.cols && i.y <= photo.rgb.rows;
    };
    return within(p) && within(q) && length(p - q) >= kFewestPixels;
  };
  double at = 0;
  while (at < farthest && shown(at + kStep))
    at += kStep;
  return at;
}

/// Paint over the pavement on both sides, by slices along the patch; nan where the photo ends or the sides differ too
/// much to say what the pavement is.
struct Slices {
  std::vector<float> contrast;
  double step = 1;  ///< columns a slice
};

Slices slices_of(const Patch& patch, double middle, double width) {
  Slices slices;
  slices.step = std::max({1.0, 0.25 * width, 20 / patch.frame.mm_per_pixel});
  cv::Mat columns;
  const int n = std::max(1, static_cast<int>(patch.paintness.cols / slices.step));
  cv::resize(patch.paintness, columns, {n, patch.paintness.rows}, 0, 0, cv::INTER_AREA);
  cv::Mat inside;
  cv::resize(patch.inside, inside, columns.size(), 0, 0, cv::INTER_NEAREST);
  const auto mean = [&](int c, double from, double to) {
    double sum = 0, count = 0;
    for (int r = std::max(0, static_cast<int>(std::lround(from)));
         r <
         std::min(columns.rows, std::max(static_cast<int>(std::lround(to)), static_cast<int>(std::lround(from)) + 1));
         ++r) {
      if (inside.at<uchar>(r, c) == 0) return std::nanf("");
      sum += static_cast<double>(columns.at<float>(r, c)), count += 1;
    }
    return count > 0 ? static_cast<float>(sum / count) : std::nanf("");
  };
  const double half = width / 2, far = std::max(0.35 * width, 3.0), near = std::max(0.12 * width, 1.5);
  for (int c = 0; c < n; ++c) {
    // the stripe wanders a little from a line carried on so far: the best of three places
    float best = std::nanf("");
    for (const double off : {0.0, -0.2, 0.2}) {
      const double y = middle + off * width;
      const float paint = mean(c, y - 0.6 * half, y + 0.6 * half),
                  above = mean(c, y - half - near - far, y - half - near),
                  below = mean(c, y + half + near, y + half + near + far);
      const float over = paint - std::max(above, below);
      if (std::isnan(over)) continue;
      if (std::abs(above - below) > static_cast<float>(kMostUneven) * std::max(over, 0.0F) &&
          std::abs(above - below) > 0.1F)
        continue;
      if (std::isnan(best) || over > best) best = over;
    }
    slices.contrast.push_back(best);
  }
  return slices;
}

/// Columns by which paint follows beyond slice `from`, going `way`; 0 where too little does.
double follows(const Slices& slices, int from, int way, double own, double width, double mm_per_pixel) {
  const auto least = static_cast<float>(std::max(kStandsOut * own, kLeastContrast));
  const int most = static_cast<int>(std::ceil(kGap * width / slices.step));
  int painted = 0, bare = 0, gap = 0, reached = 0;  // what nothing can be said of is in the way and counts for neither
  for (int i = from; i >= 0 && i < static_cast<int>(slices.contrast.size()) && gap <= most; i += way) {
    const float contrast = slices.contrast[static_cast<std::size_t>(i)];
    if (contrast >= least) {
      ++painted, gap = 0;
      if (painted >= kPainted * (painted + bare)) reached = std::abs(i - from) + 1;
    } else {
      bare += std::isnan(contrast) ? 0 : 1;
      ++gap;
    }
  }
  const double far = reached * slices.step;
  return far >= kShortest * width && far * mm_per_pixel >= kShortestMm ? far : 0;
}

}  // namespace

Bar reach_on(const FittedBar& found, const Photo& photo, const Ground& ground) {
  const Bar& bar = found.bar;
  const double wanted = std::clamp(kOfLength * bar.length(), kAtLeast, kFarthest);
  const GroundPoint along = bar.along();
  const double before = bar.start_cut ? 0 : in_sight(bar.start, along * -1.0, bar.width_mm, wanted, photo, ground),
               after = bar.end_cut ? 0 : in_sight(bar.end, along, bar.width_mm, wanted, photo, ground);
  if (std::max(before, after) < std::max(kShortestMm, kShortest * bar.width_mm)) return bar;
  const GroundPoint from = bar.start - along * before, to = bar.end + along * after;
  const PatchPlace place = patch_frame(ground, photo.rgb.size(), (from + to) * 0.5, std::atan2(along.y, along.x),
                                       length(to - from) / 2, 1.3 * bar.width_mm + 20, kPatchPixels);
  const double mm = place.mm_per_pixel, width = bar.width_mm / mm;
  if (width < kFewestPixels) return bar;
  const Patch patch = cut_patch(photo, ground, place, bar.contrast);
  const Slices slices = slices_of(patch, place.height / 2.0, width);
  const int start = static_cast<int>(before / mm / slices.step),
            end = static_cast<int>(std::ceil((before + bar.length()) / mm / slices.step));
  std::vector<float> own;
  for (int i = start; i < std::min(end, static_cast<int>(slices.contrast.size())); ++i) {
    if (const float c = slices.contrast[static_cast<std::size_t>(i)]; !std::isnan(c)) own.push_back(c);
  }
  if (own.size() < 3) return bar;
  std::nth_element(own.begin(), own.begin() + static_cast<std::ptrdiff_t>(own.size() / 2), own.end());
  const auto usual = static_cast<double>(own[own.size() / 2]);
  if (usual < kLeastContrast) return bar;
  Bar longer = bar;
  const double down = follows(slices, start - 1, -1, usual, width, mm) * mm,
               up = follows(slices, end, 1, usual, width, mm) * mm;
  longer.start = bar.start - along * down, longer.end = bar.end + along * up;
  longer.start_seen = down <= 0, longer.end_seen = up <= 0;
  // what the photo's edge ends has no end of its own
  constexpr double kAtEdge = 60;
  longer.start_cut = bar.start_cut || (down > 0 && before < wanted && before - down < kAtEdge);
  longer.end_cut = bar.end_cut || (up > 0 && after < wanted && after - up < kAtEdge);
  return longer;
}

}  // namespace lotwear
