#include "marking/bar_ends.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace lotwear {

namespace {

/// One end: a step along x between the two long edges; works on the transposed patch.
BarEnd search_end(const Patch& patch, const LongEdges& edges, double x_guess, double span_x0, double span, int sign,
                  double window, double prior) {
  const double t = std::clamp((x_guess - span_x0) / std::max(span, 1.0), 0.0, 1.0);
  const double top = edges.upper.at(t), bottom = edges.lower.at(t), inset = 0.12 * (bottom - top);
  EdgeGuess guess;
  guess.x0 = static_cast<int>(std::floor(top + inset));
  guess.x1 = static_cast<int>(std::ceil(bottom - inset));
  guess.y0 = guess.y1 = x_guess;
  guess.window = window;
  guess.prior_sigma = prior;
  guess.sign = sign;
  guess.bend = false;
  if (guess.x1 - guess.x0 < 3) return {x_guess};
  // only the neighbourhood of the end matters
  const int r0 = std::clamp(static_cast<int>(x_guess - 1.5 * window - 12), 0, patch.paintness.cols - 1);
  const int r1 = std::clamp(static_cast<int>(x_guess + 1.5 * window + 12), r0 + 1, patch.paintness.cols);
  const cv::Mat turned = patch.paintness.colRange(r0, r1).t(), inside = patch.inside.colRange(r0, r1).t();
  const cv::Mat step = step_across(turned, 1.5, 1.5);
  guess.y0 -= r0, guess.y1 -= r0;
  const FoundEdge edge = search_edge(step, inside, guess);
  // ends are cut square in the trade; a strong slope is a flake's rim
  const double slope = (edge.y1 - edge.y0) / std::max(1, guess.x1 - guess.x0);
  return {(edge.y0 + edge.y1) / 2 + r0, std::abs(slope) < 0.35 ? slope : 0, edge.support};
}

/// Rows at a column, by shares of the way from the upper to the lower edge.
std::pair<int, int> rows_at(const BarPatch& b, const LongEdges& edges, int x, double from, double to) {
  const double t = (x - b.x0) / b.span(), top = edges.upper.at(t), tall = edges.lower.at(t) - top;
  return {static_cast<int>(std::floor(top + from * tall)), static_cast<int>(std::ceil(top + to * tall))};
}

/// Mean paintness between two columns and two shares of the width.
std::optional<double> mean_between(const BarPatch& b, const LongEdges& edges, double from_x, double to_x, double from,
                                   double to) {
  const cv::Mat &inside = b.patch.inside, &paint = b.patch.paintness;
  double sum = 0, n = 0;
  for (int x = static_cast<int>(std::min(from_x, to_x)); x <= static_cast<int>(std::max(from_x, to_x)); ++x) {
    if (x < 0 || x >= inside.cols) continue;
    const auto [top, bottom] = rows_at(b, edges, x, from, to);
    for (int r = std::max(0, top); r < std::min(bottom, inside.rows); ++r)
      if (inside.at<uchar>(r, x) != 0) sum += static_cast<double>(paint.at<float>(r, x)), n += 1;
  }
  return n > 8 ? std::optional(sum / n) : std::nullopt;
}

/// Paintness over the pavement beside the bar, on both sides of an end.
struct AboutEnd {
  double within = 0, beyond = 0;
};
/// `near`: how far the bar is looked at; `to`: the column up to which what lies beyond the end is.
std::optional<AboutEnd> about_end(const BarPatch& b, const LongEdges& edges, const BarEnd& end, int sign, double near,
                                  double to) {
  const double width = edges.lower.at(0.5) - edges.upper.at(0.5);
  const double off = 2 + std::abs(end.tilt) * width / 2, ahead = end.x - sign * off, back = end.x + sign * off;
  const auto within = mean_between(b, edges, back, back + sign * near, 0.15, 0.85),
             beyond = mean_between(b, edges, ahead, to, 0.15, 0.85);
  const auto above = mean_between(b, edges, back + sign * near, to, -0.4, -0.15),
             below = mean_between(b, edges, back + sign * near, to, 1.15, 1.4);
  if (!within || !beyond || (!above && !below)) return std::nullopt;
  const double bare = above && below ? (*above + *below) / 2 : above ? *above : *below;
  return AboutEnd{*within - bare, *beyond - bare};
}

/// A joint or a row of flakes is a clearer step than the end of a worn bar, but the bar goes on behind it.
bool goes_on(const BarPatch& b, const LongEdges& edges, const BarEnd& end, double x_mapped, int sign) {
  constexpr double kPainted = 0.1,
                   kGoesOn = 0.4;  // of whole paint; of the level within: a slanted end leaves a third beyond it
  const double width = edges.lower.at(0.5) - edges.upper.at(0.5);
  if (sign * (end.x - x_mapped) < std::max({4.0, 2 * b.cell, 0.1 * width})) return false;
  const auto levels = about_end(b, edges, end, sign, width, x_mapped);
  return levels && levels->within > kPainted && levels->beyond > kGoesOn * levels->within;
}

}  // namespace

BarEnd end_near(const BarPatch& b, const LongEdges& edges, double x_mapped, int sign) {
  const double scale = 1 / b.place.mm_per_pixel, width = std::max(1.0, edges.lower.at(0.5) - edges.upper.at(0.5));
  const double window = std::clamp(std::max({100.0 * scale, 1.3 * width, 4 * b.cell}) + b.ends_off, 6.0, 220.0);
  // the finder's haze makes ends less sure than edges: up to a stripe's width too long or too short
  const double prior = std::max(3 * b.cell, 0.5 * width) + b.ends_off;
  const BarEnd found = search_end(b.patch, edges, x_mapped, b.x0, b.span(), sign, window, prior);
  if (!goes_on(b, edges, found, x_mapped, sign)) return found;
  const double nearer = std::abs(found.x - x_mapped) / 2;
  const BarEnd again = search_end(b.patch, edges, x_mapped, b.x0, b.span(), sign, nearer, nearer);
  return goes_on(b, edges, again, x_mapped, sign) ? BarEnd{x_mapped} : again;
}

std::optional<BarEnd> end_within(const BarPatch& b, const LongEdges& edges, int sign) {
  constexpr double kWindowMm = 250, kClear = 0.7;  // looked at; share of the width with a step
  constexpr double kBare = 0.3, kPainted = 0.5;    // of the paint's level within; of whole paint
  const cv::Mat& inside = b.patch.inside;
  const double width = edges.lower.at(0.5) - edges.upper.at(0.5);
  const auto shown = [&](int x) {
    const auto [top, bottom] = rows_at(b, edges, x, 0, 1);
    return x >= 0 && x < inside.cols && top >= 0 && bottom < inside.rows && inside.at<uchar>(top, x) != 0 &&
           inside.at<uchar>(bottom, x) != 0;
  };
  // the last column that the photo shows from edge to edge
  int border = static_cast<int>(sign > 0 ? b.x1 : b.x0);
  if (width < 3 || !shown(border)) return std::nullopt;
  while (shown(border - sign))
    border -= sign;
  const double reach = std::clamp(kWindowMm / b.place.mm_per_pixel, 4 * b.cell, std::max(4 * b.cell, 0.5 * b.span()));
  const double window = reach / 2;
  const BarEnd found = search_end(b.patch, edges, border + sign * window, b.x0, b.span(), sign, window, 10 * window);
  const double beyond = sign * (found.x - border);
  if (found.support < kClear || beyond < std::max(3.0, b.cell)) return std::nullopt;
  const auto levels = about_end(b, edges, found, sign, std::min(reach, width), border);
  if (!levels || levels->within < kPainted || levels->beyond > kBare * levels->within) return std::nullopt;
  return found;
}

}  // namespace lotwear
