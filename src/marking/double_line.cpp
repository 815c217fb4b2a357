#include "marking/double_line.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace lotwear {

namespace {

/// Paintness across the line in one column, in steps from the upper to the lower edge, over the pavement beside it and
/// over the column's own strongest: shade and fading take their share of both. Nothing where the photo is too coarse or
/// no paint stands out.
constexpr int kAcross = 40;
std::optional<std::array<float, kAcross>> profile_at(int x, const BarPatch& b, const LongEdges& edges,
                                                     const Ground& ground) {
  constexpr double kLeastPixels = 14, kStandsOut = 0.15, kBeside = 0.25;  // photo pixels; of whole paint; of the width
  const double t = (x - b.x0) / b.span(), top = edges.upper.at(t), width = edges.lower.at(t) - top;
  const ImagePoint from = ground.image_from_ground(b.place.ground({x + 0.5, top})),
                   to = ground.image_from_ground(b.place.ground({x + 0.5, top + width}));
  if (length(to - from) < kLeastPixels) return std::nullopt;
  const auto at = [&](double y) -> std::optional<float> {
    const int r = static_cast<int>(y);
    if (x < 0 || x >= b.patch.inside.cols || r < 0 || r >= b.patch.inside.rows || b.patch.inside.at<uchar>(r, x) == 0)
      return std::nullopt;
    return b.patch.paintness.at<float>(r, x);
  };
  const auto above = at(top - kBeside * width), below = at(top + (1 + kBeside) * width);
  if (!above && !below) return std::nullopt;
  const float bare = above && below ? (*above + *below) / 2 : above.value_or(below.value_or(0));
  std::array<float, kAcross> profile{};
  for (int i = 0; i < kAcross; ++i) {
    const auto paint = at(top + width * (i + 0.5) / kAcross);
    if (!paint) return std::nullopt;
    profile[static_cast<std::size_t>(i)] = *paint - bare;
  }
  std::array<float, kAcross> sorted = profile;
  std::nth_element(sorted.begin(), sorted.begin() + kAcross * 9 / 10, sorted.end());
  const float strong = sorted[kAcross * 9 / 10];
  if (static_cast<double>(strong) < kStandsOut) return std::nullopt;
  for (float& p : profile)
    p /= strong;
  return profile;
}

}  // namespace

std::optional<BareStrip> bare_strip(const BarPatch& b, const LongEdges& edges, const Ground& ground) {
  constexpr double kPainted = 0.4, kBare = 0.4;  // of the column's strongest; of the stripe's own
  constexpr std::size_t kFewest = 20;
  std::vector<std::array<float, kAcross>> columns;
  BareStrip strip{0, 0, b.x1, b.x0};
  for (int x = b.x0; x < b.x1; x += std::max(1, (b.x1 - b.x0) / 300)) {
    const auto column = profile_at(x, b, edges, ground);
    if (!column) continue;
    columns.push_back(*column);
    strip.x0 = std::min(strip.x0, x), strip.x1 = std::max(strip.x1, x);
  }
  if (columns.size() < kFewest) return std::nullopt;
  std::array<double, kAcross> profile{};
  std::vector<float> along(columns.size());
  for (std::size_t i = 0; i < profile.size(); ++i) {
    for (std::size_t c = 0; c < columns.size(); ++c)
      along[c] = columns[c][i];
    std::nth_element(along.begin(), along.begin() + static_cast<std::ptrdiff_t>(along.size() / 2), along.end());
    profile[i] = static_cast<double>(along[along.size() / 2]);
  }
  const auto from = profile.begin();
  const double first = *std::max_element(from, from + kAcross * 2 / 5),
               second = *std::max_element(from + kAcross * 3 / 5, profile.end());
  const auto lowest = std::min_element(from + kAcross / 4, from + kAcross * 3 / 4);
  const double lesser = std::min(first, second);
  if (lesser < kPainted || *lowest > kBare * lesser) return std::nullopt;
  auto begins = lowest, ends = lowest;
  while (begins != from && *begins < (first + *lowest) / 2)
    --begins;
  while (ends + 1 != profile.end() && *ends < (second + *lowest) / 2)
    ++ends;
  strip.begins = static_cast<double>(begins - from + 1) / kAcross,
  strip.ends = static_cast<double>(ends - from) / kAcross;
  const double narrower = std::min(strip.begins, 1 - strip.ends), wider = std::max(strip.begins, 1 - strip.ends);
  // two stripes of one width; what is worn bare in the middle leaves rims of any
  if (narrower < 0.18 || wider > 1.7 * narrower || strip.ends - strip.begins < 0.08) return std::nullopt;
  return strip;
}

FoundEdge inner_edge(const BarPatch& b, const LongEdges& outer, const BareStrip& strip, double share, int sign) {
  const auto row = [&](double t) { return outer.upper.at(t) + (outer.lower.at(t) - outer.upper.at(t)) * share; };
  const auto part = [&](int x) { return (x - b.x0) / b.span(); };
  EdgeGuess guess;
  guess.x0 = strip.x0, guess.x1 = std::max(strip.x0 + 4, strip.x1);
  guess.sign = sign;
  guess.y0 = row(part(guess.x0));
  guess.y1 = row(part(guess.x1));
  guess.window = std::clamp(0.08 * (outer.lower.at(0.5) - outer.upper.at(0.5)), 2.0, 20.0);
  guess.prior_sigma = std::max(1.5, guess.window / 2);
  guess.bend = false;
  FoundEdge edge = search_edge(b.step, b.patch.inside, guess);
  // beside the outer edges it keeps its share of the width
  const double off0 = edge.y0 - guess.y0, off1 = edge.y1 - guess.y1,
               slope = (off1 - off0) / std::max(1, guess.x1 - guess.x0);
  edge.y0 = row(0) + off0 + slope * (b.x0 - guess.x0);
  edge.y1 = row(1) + off0 + slope * (b.x1 - guess.x0);
  edge.bow = outer.upper.bow + (outer.lower.bow - outer.upper.bow) * share;
  return edge;
}

}  // namespace lotwear
