#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "marking/bar_curve.hpp"
#include "marking/bar_ends.hpp"
#include "marking/bar_gaps.hpp"
#include "marking/bar_patch.hpp"
#include "marking/bars.hpp"
#include "marking/double_line.hpp"

namespace lotwear {

namespace {

FittedBar between(const LongEdges& edges, const BarPatch& b) {
  const auto& [bar, place, patch, step, cell, x_start, x_end, y_middle, half, x0, x1, ends_off] = b;
  const double span = b.span();
  const auto end_of = [&](bool cut, bool seen, double guess, int sign) -> std::pair<BarEnd, bool> {
    if (cut) {
      if (const auto within = end_within(b, edges, sign)) return {*within, false};
      return {{sign > 0 ? -1.0 : place.width + 1.0}, true};
    }
    if (seen) return {{guess}, false};
    return {end_near(b, edges, guess, sign), false};
  };
  auto [first, start_cut] = end_of(bar.start_cut, bar.start_seen, x_start, 1);
  auto [last, end_cut] = end_of(bar.end_cut, bar.end_seen, x_end, -1);
  if (last.x - first.x < 0.4 * (x_end - x_start)) first = {x_start}, last = {x_end}, start_cut = bar.start_cut, end_cut = bar.end_cut;
  const double start = first.x, end = last.x, tilt_start = first.tilt, tilt_end = last.tilt;

  FittedBar fitted;
  fitted.bar = bar;
  fitted.bar.start_cut = start_cut, fitted.bar.end_cut = end_cut;
  const auto edge_point = [&](const FoundEdge& edge, double x, double tilt) {
    double y = edge.at((x - x0) / span);
    const double sloped = x + tilt * (y - y_middle);
    y = edge.at((sloped - x0) / span);
    return place.ground({sloped, y});
  };
  const int steps = std::abs(edges.upper.bow) > 0.4 || std::abs(edges.lower.bow) > 0.4 ? 8 : 1;
  for (int i = 0; i <= steps; ++i) {
    const double f = static_cast<double>(i) / steps;
    fitted.ring.push_back(edge_point(edges.upper, start + (end - start) * f, tilt_start * (1 - f) + tilt_end * f));
  }
  for (int i = steps; i >= 0; --i) {
    const double f = static_cast<double>(i) / steps;
    fitted.ring.push_back(edge_point(edges.lower, start + (end - start) * f, tilt_start * (1 - f) + tilt_end * f));
  }
  const auto middle_of = [&](double x) {
    const double t = (x - x0) / span;
    return place.ground({x, (edges.upper.at(t) + edges.lower.at(t)) / 2});
  };
  fitted.bar.start = middle_of(start);
  fitted.bar.end = middle_of(end);
  fitted.bar.width_mm = (edges.lower.at(0.5) - edges.upper.at(0.5)) * place.mm_per_pixel;
  fitted.support = std::min(edges.upper.support, edges.lower.support);
  // independent looks: a column every ten pixels; a third of a pixel stays whatever the length (blur, optics, ragged rim)
  const double looks = std::max(1.0, span / 10 * std::max(0.05, fitted.support));
  const double scatter = std::max(edges.upper.scatter, edges.lower.scatter);
  const double seen = place.mm_per_pixel * std::sqrt(0.33 * 0.33 + scatter * scatter / looks);
  const double trust = std::clamp(fitted.support / 0.25, 0.0, 1.0);
  fitted.edge_error_mm = trust * seen + (1 - trust) * 0.5 * bar.cell_mm;
  return fitted;
}

/// A long line whose edges show only in part along a straight one, looked at again as a curve.
struct Curved {
  BarPatch patch;
  LongEdges edges;
};
std::optional<Curved> curved(const Bar& bar, const LongEdges& straight, const BarPatch& b, const Photo& photo, const Ground& ground) {
  constexpr double kLong = 15, kShows = 0.9;                         // widths; share of a straight edge that shows anyhow
  constexpr double kBetter = 1.15, kMoreShows = 0.12, kLeast = 0.75;  // over the straight line's score and share; of the curve's edges
  constexpr double kLeastBow = 0.4, kNarrowest = 0.6;                 // of the width; a lens bows less
  const double shows = std::min(straight.upper.support, straight.lower.support);
  if (bar.length() < kLong * bar.width_mm || shows > kShows) return std::nullopt;
  Curved found{patch_of(bar, photo, ground, 3 * bar.width_mm), {}};
  const BarPatch& wide = found.patch;
  const CurvedEdges curve = search_curve(wide.step, wide.patch.inside, wide.x0, wide.x1, wide.y_middle, 2 * wide.half);
  const double width = curve.lower.y0 - curve.upper.y0, curve_shows = std::min(curve.upper.support, curve.lower.support);
  const double before = score_along(b.step, b.patch.inside, b.x0, b.x1, straight.upper, straight.lower);
  const bool better = curve.score > kBetter * before && curve_shows > std::max(kLeast, shows + kMoreShows);
  if (!better || std::abs(curve.upper.bow) < kLeastBow * width || width < kNarrowest * 2 * wide.half) return std::nullopt;
  found.edges = {curve.upper, curve.lower};
  found.patch.ends_off = 1.5 * width;  // a straight bar's ends, by quantiles, fall short of a curve's
  return found;
}

bool alike(double a, double b) {
  constexpr double kAlike = 0.15;  // strokes are set out by eye and by the machine's speed
  return std::abs(a - b) < kAlike * std::max(a, b);
}

/// Strokes of one length, or gaps of one length, are a broken line's; one straight cut alone may be a patched trench, and
/// the line went on there.
bool broken_on_purpose(const Bar& bar, const std::vector<Gap>& gaps, double x_start, double x_end) {
  std::vector<double> strokes, bare;
  double from = x_start;
  for (std::size_t i = 0; i < gaps.size(); ++i) {
    if (i > 0 || !bar.start_cut) strokes.push_back(gaps[i].from - from);
    bare.push_back(gaps[i].to - gaps[i].from);
    from = gaps[i].to;
  }
  if (!bar.end_cut) strokes.push_back(x_end - from);
  const auto [least, most] = std::minmax_element(bare.begin(), bare.end());
  if (!alike(*least, *most)) return false;
  if (strokes.size() < 2) return bare.size() > 1;
  const auto [shortest, longest] = std::minmax_element(strokes.begin(), strokes.end());
  return alike(*shortest, *longest);
}

/// What a broken line is made of.
std::vector<Bar> strokes_between(const Bar& bar, const std::vector<Gap>& gaps, const BarPatch& b) {
  std::vector<Bar> strokes{bar};
  for (const Gap& gap : gaps) {
    Bar next = strokes.back();
    strokes.back().end = b.place.ground({gap.from, b.y_middle}), strokes.back().end_cut = false;
    next.start = b.place.ground({gap.to, b.y_middle}), next.start_cut = false;
    strokes.push_back(next);
  }
  return strokes;
}

}  // namespace

std::vector<FittedBar> refine_bar(const Bar& bar, const Photo& photo, const Ground& ground) {
  const BarPatch b = patch_of(bar, photo, ground);
  const LongEdges edges = search_long_edges(b);
  const auto strip = bare_strip(b, edges, ground);
  if (strip) {
    constexpr double kInnerEdgesShow = 0.3;
    const FoundEdge first = inner_edge(b, edges, *strip, strip->begins, -1), second = inner_edge(b, edges, *strip, strip->ends, 1);
    if (std::min(first.support, second.support) > kInnerEdgesShow) return {between({edges.upper, first}, b), between({second, edges.lower}, b)};
  }
  if (const auto bent = curved(bar, edges, b, photo, ground)) {
    FittedBar line = between(bent->edges, bent->patch);
    line.curved = true;
    return {line};
  }
  FittedBar whole = between(edges, b);
  // the gaps come last: a line's edges and its perspective are known best over its whole length
  const std::vector<Gap> gaps = unpainted_gaps(b.patch, edges.upper, edges.lower, b.x0, b.x1);
  if (gaps.empty() || !broken_on_purpose(bar, gaps, b.place.patch(whole.bar.start).x, b.place.patch(whole.bar.end).x)) return {whole};
  for (const Bar& stroke : strokes_between(bar, gaps, b)) {
    BarPatch own{stroke, b.place, b.patch, b.step, b.cell, 0, 0, b.y_middle, b.half, b.x0, b.x1, 0};
    own.x_start = b.place.patch(stroke.start).x, own.x_end = b.place.patch(stroke.end).x;
    whole.strokes.push_back(between(edges, own).ring);
  }
  for (const Gap& gap : gaps) whole.gaps_mm += (gap.to - gap.from) * b.place.mm_per_pixel;
  return {whole};
}

}  // namespace lotwear
