#include "marking/fit_bars.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <optional>
#include <utility>

#include "marking/bar_reach.hpp"

namespace lotwear {
namespace {

constexpr double kSameWidth = 1.4;  // times: what goes on wider or narrower is another thing, or the line was lost

/// Whether a bar lies on a longer one: most of it, or a good part of a short one, whose direction is uncertain.
bool lies_on(const Bar& bar, const Bar& longer) {
  constexpr int kAlong = 20, kAcross = 5;
  constexpr double kMost = 0.75, kGoodPart = 0.35, kShort = 0.5;
  const GroundPoint u = longer.along(), v = bar.along(), side{-v.y, v.x};
  int on = 0;
  for (int i = 0; i < kAlong; ++i) {
    for (int j = 0; j < kAcross; ++j) {
      const GroundPoint p = bar.start + v * (bar.length() * (i + 0.5) / kAlong) + side * (bar.width_mm * ((j + 0.5) / kAcross - 0.5)) - longer.start;
      const double s = dot(u, p);
      if (s >= 0 && s <= longer.length() && std::abs(cross(u, p)) < longer.width_mm / 2) ++on;
    }
  }
  return on > (bar.length() < kShort * longer.length() ? kGoodPart : kMost) * kAlong * kAcross;
}

/// The bar followed beyond its ends; nothing where it ends, or where its edges do not bear out what follows.
std::optional<FittedBar> followed(const FittedBar& bar, const Photo& photo, const Ground& ground) {
  if (bar.curved || !bar.strokes.empty()) return std::nullopt;
  const Bar longer = reach_on(bar, photo, ground);
  if (longer.length() <= bar.bar.length() + 1) return std::nullopt;
  std::vector<FittedBar> again = refine_bar(longer, photo, ground);
  if (again.size() != 1 || again.front().support < std::max(kLeastEdgeSeen, 0.6 * bar.support)) return std::nullopt;
  const double width = again.front().bar.width_mm / bar.bar.width_mm;
  if (width < 1 / kSameWidth || width > kSameWidth) return std::nullopt;
  if (again.front().bar.length() < (bar.bar.length() + longer.length()) / 2) return std::nullopt;
  return std::move(again.front());
}

}  // namespace

FittedBars fit_bars(const std::vector<Bar>& bars, const Photo& photo, const Ground& ground) {
  // a list each, as a double line that the map runs together is two
  std::vector<std::vector<FittedBar>> fitted;
  for (const Bar& bar : bars) {
    fitted.emplace_back();
    for (FittedBar& found : refine_bar(bar, photo, ground)) {
      if (found.bar.width_mm > 0 && (found.support >= kLeastEdgeSeen || bar.sure)) fitted.back().push_back(std::move(found));
    }
  }
  std::vector<std::vector<FittedBar>> mapped = fitted;
  for (std::vector<FittedBar>& one : fitted) {
    if (one.size() != 1) continue;
    std::optional<FittedBar> longer = followed(one.front(), photo, ground);
    if (!longer) continue;
    for (std::vector<FittedBar>& other : fitted) {
      const bool part = &other != &one && other.size() == 1 && other.front().support < longer->support && lies_on(other.front().bar, longer->bar);
      if (part) other.clear();
    }
    one = {std::move(*longer)};
  }
  FittedBars all;
  for (std::size_t i = 0; i < fitted.size(); ++i) {
    if (fitted[i].empty()) continue;
    std::move(fitted[i].begin(), fitted[i].end(), std::back_inserter(all.whole));
    std::move(mapped[i].begin(), mapped[i].end(), std::back_inserter(all.as_mapped));
  }
  return all;
}

}  // namespace lotwear
