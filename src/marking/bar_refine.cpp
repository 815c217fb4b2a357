#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <vector>

#include "marking/bar_curve.hpp"
#include "marking/bar_gaps.hpp"
#include "marking/bars.hpp"
#include "marking/edge_search.hpp"

namespace lotwear {

namespace {

constexpr double kEndOffMm = 60;        // how far off the map's end of a bar usually is at most
constexpr double kPatchPixels = 0.9e6;   // enough for a stall line at a millimetre and a half; more costs time, not accuracy

/// Long edges of the bar in its own patch: the upper (paint begins) and the lower (paint ends).
struct LongEdges {
  FoundEdge upper, lower;
};

/// An edge that shows nowhere near its guess: on a plane that is a little off a stripe is a wedge, and its edge slopes away.
void look_wider(FoundEdge& edge, const Patch& patch, const cv::Mat& step, EdgeGuess guess, double half) {
  if (edge.support >= kLeastEdgeSeen) return;
  guess.window = std::clamp(0.8 * half, guess.window, 150.0);
  guess.prior_sigma = std::max(guess.prior_sigma, 0.4 * half);
  const FoundEdge wider = search_edge(step, patch.inside, guess);
  if (wider.support >= std::max(kLeastEdgeSeen, 2 * edge.support)) edge = wider;
}

LongEdges search_long_edges(const Patch& patch, const cv::Mat& step, int x0, int x1, double middle, double half, double cell) {
  EdgeGuess guess;
  guess.x0 = x0, guess.x1 = x1;
  guess.window = std::clamp(std::max(2.5 * cell, 0.35 * half), 6.0, 60.0);
  guess.prior_sigma = std::max(1.2 * cell, 2.0);
  guess.sign = 1;
  guess.y0 = guess.y1 = middle - half;
  LongEdges edges;
  edges.upper = search_edge(step, patch.inside, guess);
  look_wider(edges.upper, patch, step, guess, half);
  guess.sign = -1;
  guess.y0 = guess.y1 = middle + half;
  edges.lower = search_edge(step, patch.inside, guess);
  look_wider(edges.lower, patch, step, guess, half);

  // paint comes off the roller equally wide: where the two disagree, the clearer edge leads the other one
  const double w0 = edges.lower.y0 - edges.upper.y0, w1 = edges.lower.y1 - edges.upper.y1;
  const double narrow = std::min(w0, w1), wide = std::max(w0, w1);
  if (narrow < 0.5 * wide || narrow < 0.4 * 2 * half || wide > 1.8 * 2 * half) {
    const bool upper_leads = edges.upper.strength >= edges.lower.strength;
    const FoundEdge& lead = upper_leads ? edges.upper : edges.lower;
    const double width = 2 * half;
    guess.sign = upper_leads ? -1 : 1;
    guess.y0 = lead.y0 + (upper_leads ? width : -width);
    guess.y1 = lead.y1 + (upper_leads ? width : -width);
    guess.window = std::clamp(1.2 * cell, 4.0, 30.0);
    guess.prior_sigma = std::max(0.6 * cell, 1.5);
    (upper_leads ? edges.lower : edges.upper) = search_edge(step, patch.inside, guess);
  }
  return edges;
}

struct BarEnd {
  double x = 0;
  double tilt = 0;      ///< columns a row
  double support = 0;   ///< share of the width with a clear step
};

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

/// The bar's own patch, the bar along x.
struct BarPatch {
  const Bar& bar;
  PatchPlace place;
  Patch patch;
  cv::Mat step;
  double cell = 0, x_start = 0, x_end = 0, y_middle = 0, half = 0;   // pixels
  int x0 = 0, x1 = 0;                                                // the ends are unsure: edges are searched between these
  double ends_off = 0;                                               // how much more unsure than a straight bar's, pixels

  double span() const { return std::max(1, x1 - x0); }
};

/// `aside_mm`: how much more than the bar itself is looked at to either side.
BarPatch patch_of(const Bar& bar, const Photo& photo, const Ground& ground, double aside_mm = 0) {
  const GroundPoint axis = bar.along();
  const double margin_x = std::max({160.0, 5 * bar.cell_mm, 1.6 * bar.width_mm}), margin_y = std::max({60.0, 4 * bar.cell_mm, 0.4 * bar.width_mm, aside_mm});
  BarPatch b{bar, {}, {}, {}};
  b.place = patch_frame(ground, photo.rgb.size(), (bar.start + bar.end) * 0.5, std::atan2(axis.y, axis.x), bar.length() / 2 + margin_x,
                        bar.width_mm / 2 + margin_y, kPatchPixels);
  b.patch = cut_patch(photo, ground, b.place, bar.contrast);
  b.step = step_across(b.patch.paintness, 1.2, 3.0);
  const double scale = 1 / b.place.mm_per_pixel;
  b.cell = std::max(1.0, bar.cell_mm * scale);
  b.x_start = margin_x * scale, b.x_end = (margin_x + bar.length()) * scale;
  b.y_middle = b.place.height / 2.0, b.half = bar.width_mm * scale / 2;
  const double trim = std::min(0.05 * (b.x_end - b.x_start), 2 * b.cell);
  b.x0 = static_cast<int>(b.x_start + trim);
  b.x1 = std::max(static_cast<int>(b.x_end - trim), b.x0 + 4);
  return b;
}

/// The strip of pavement between the two stripes of a double line, by shares of the way from the upper to the lower edge:
/// along most of the length it is bare, and both stripes beside it are not.
struct BareStrip {
  double begins = 0, ends = 0;
  int x0 = 0, x1 = 0;   ///< columns between which the photo is fine enough to show it
};

/// Paintness across the line in one column, in steps from the upper to the lower edge, over the pavement beside it and over the
/// column's own strongest: shade and fading take their share of both. Nothing where the photo is too coarse or no paint stands out.
constexpr int kAcross = 40;
std::optional<std::array<float, kAcross>> profile_at(int x, const BarPatch& b, const LongEdges& edges, const Ground& ground) {
  constexpr double kLeastPixels = 14, kStandsOut = 0.15, kBeside = 0.25;   // photo pixels; of whole paint; of the width
  const double t = (x - b.x0) / b.span(), top = edges.upper.at(t), width = edges.lower.at(t) - top;
  const ImagePoint from = ground.image_from_ground(b.place.ground({x + 0.5, top})),
                   to = ground.image_from_ground(b.place.ground({x + 0.5, top + width}));
  if (length(to - from) < kLeastPixels) return std::nullopt;
  const auto at = [&](double y) -> std::optional<float> {
    const int r = static_cast<int>(y);
    if (x < 0 || x >= b.patch.inside.cols || r < 0 || r >= b.patch.inside.rows || b.patch.inside.at<uchar>(r, x) == 0) return std::nullopt;
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
  for (float& p : profile) p /= strong;
  return profile;
}

std::optional<BareStrip> bare_strip(const BarPatch& b, const LongEdges& edges, const Ground& ground) {
  constexpr double kPainted = 0.4, kBare = 0.4;   // of the column's strongest; of the stripe's own
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
    for (std::size_t c = 0; c < columns.size(); ++c) along[c] = columns[c][i];
    std::nth_element(along.begin(), along.begin() + static_cast<std::ptrdiff_t>(along.size() / 2), along.end());
    profile[i] = static_cast<double>(along[along.size() / 2]);
  }
  const auto from = profile.begin();
  const double first = *std::max_element(from, from + kAcross * 2 / 5), second = *std::max_element(from + kAcross * 3 / 5, profile.end());
  const auto lowest = std::min_element(from + kAcross / 4, from + kAcross * 3 / 4);
  const double lesser = std::min(first, second);
  if (lesser < kPainted || *lowest > kBare * lesser) return std::nullopt;
  auto begins = lowest, ends = lowest;
  while (begins != from && *begins < (first + *lowest) / 2) --begins;
  while (ends + 1 != profile.end() && *ends < (second + *lowest) / 2) ++ends;
  strip.begins = static_cast<double>(begins - from + 1) / kAcross, strip.ends = static_cast<double>(ends - from) / kAcross;
  const double narrower = std::min(strip.begins, 1 - strip.ends), wider = std::max(strip.begins, 1 - strip.ends);
  // two stripes of one width; what is worn bare in the middle leaves rims of any
  if (narrower < 0.18 || wider > 1.7 * narrower || strip.ends - strip.begins < 0.08) return std::nullopt;
  return strip;
}

/// An edge of the strip, searched where the photo shows it, near where the profile has it, and carried on to the line's ends.
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
  const double off0 = edge.y0 - guess.y0, off1 = edge.y1 - guess.y1, slope = (off1 - off0) / std::max(1, guess.x1 - guess.x0);
  edge.y0 = row(0) + off0 + slope * (b.x0 - guess.x0);
  edge.y1 = row(1) + off0 + slope * (b.x1 - guess.x0);
  edge.bow = outer.upper.bow + (outer.lower.bow - outer.upper.bow) * share;
  return edge;
}

/// The end of a bar that the finder has go on to the photo's border, where the photo shows it end before: a clear step over the
/// whole width, paint on one side of it and pavement on the other. The finder's haze fills what little lies between.
/// `sign` +1: the bar's start.
std::optional<BarEnd> end_within(const BarPatch& b, const LongEdges& edges, int sign) {
  constexpr double kWindowMm = 250, kClear = 0.7;        // looked at; share of the width with a step
  constexpr double kBare = 0.3, kPainted = 0.5;          // of the paint's level within; of whole paint
  const cv::Mat& inside = b.patch.inside;
  const cv::Mat& paint = b.patch.paintness;
  const double width = edges.lower.at(0.5) - edges.upper.at(0.5);
  const int cols = inside.cols;
  const auto rows_at = [&](int x, double from, double to) {
    const double t = (x - b.x0) / b.span(), top = edges.upper.at(t), tall = edges.lower.at(t) - top;
    return std::pair{static_cast<int>(std::floor(top + from * tall)), static_cast<int>(std::ceil(top + to * tall))};
  };
  const auto shown = [&](int x) {
    const auto [top, bottom] = rows_at(x, 0, 1);
    return x >= 0 && x < cols && top >= 0 && bottom < inside.rows && inside.at<uchar>(top, x) != 0 && inside.at<uchar>(bottom, x) != 0;
  };
  // the last column that the photo shows from edge to edge
  int border = static_cast<int>(sign > 0 ? b.x1 : b.x0);
  if (width < 3 || !shown(border)) return std::nullopt;
  while (shown(border - sign)) border -= sign;
  const double reach = std::clamp(kWindowMm / b.place.mm_per_pixel, 4 * b.cell, std::max(4 * b.cell, 0.5 * b.span()));
  const double window = reach / 2;
  const BarEnd found = search_end(b.patch, edges, border + sign * window, b.x0, b.span(), sign, window, 10 * window);
  const double beyond = sign * (found.x - border);
  if (found.support < kClear || beyond < std::max(3.0, b.cell)) return std::nullopt;
  // levels within the end, beyond it, and of the pavement beside both
  const auto mean = [&](double from_x, double to_x, double from, double to) -> std::optional<double> {
    double sum = 0, n = 0;
    for (int x = static_cast<int>(std::min(from_x, to_x)); x <= static_cast<int>(std::max(from_x, to_x)); ++x) {
      if (x < 0 || x >= cols) continue;
      const auto [top, bottom] = rows_at(x, from, to);
      for (int r = std::max(0, top); r < std::min(bottom, inside.rows); ++r)
        if (inside.at<uchar>(r, x) != 0) sum += static_cast<double>(paint.at<float>(r, x)), n += 1;
    }
    return n > 8 ? std::optional(sum / n) : std::nullopt;
  };
  const double off = 2 + std::abs(found.tilt) * width / 2, ahead = found.x - sign * off, back = found.x + sign * off;
  const double near = std::min(reach, width);
  const auto within = mean(back, back + sign * near, 0.15, 0.85), after = mean(ahead, border, 0.15, 0.85);
  const auto above = mean(back + sign * near, border, -0.4, -0.15), below = mean(back + sign * near, border, 1.15, 1.4);
  if (!within || !after || (!above && !below)) return std::nullopt;
  const double bare = above && below ? (*above + *below) / 2 : above ? *above : *below;
  if (*within - bare < kPainted || *after - bare > kBare * (*within - bare)) return std::nullopt;
  return found;
}

FittedBar between(const LongEdges& edges, const BarPatch& b) {
  const auto& [bar, place, patch, step, cell, x_start, x_end, y_middle, half, x0, x1, ends_off] = b;
  const double scale = 1 / place.mm_per_pixel, span = b.span();
  const double width = std::max(1.0, edges.lower.at(0.5) - edges.upper.at(0.5));
  const double window = std::clamp(std::max({100.0 * scale, 1.3 * width, 4 * cell}) + ends_off, 6.0, 220.0);
  // the finder's haze makes ends less sure than edges, but its map of a wide bar ends where the bar does: a joint or a row of
  // flakes further in is clearer than the end of a worn one
  const double end_prior = std::max(3 * cell, std::min(0.5 * width, kEndOffMm * scale)) + ends_off;
  const auto end_of = [&](bool cut, bool seen, double guess, int sign) -> std::pair<BarEnd, bool> {
    if (cut) {
      if (const auto within = end_within(b, edges, sign)) return {*within, false};
      return {{sign > 0 ? -1.0 : place.width + 1.0}, true};
    }
    if (seen) return {{guess}, false};
    return {search_end(patch, edges, guess, x0, span, sign, window, end_prior), false};
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
  const LongEdges edges = search_long_edges(b.patch, b.step, b.x0, b.x1, b.y_middle, b.half, b.cell);
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
