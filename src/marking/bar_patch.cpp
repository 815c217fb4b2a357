#include "marking/bar_patch.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

namespace {

constexpr double kPatchPixels =
    0.9e6;  // enough for a stall line at a millimetre and a half; more costs time, not accuracy

/// An edge that shows nowhere near its guess: on a plane that is a little off a stripe is a wedge, and its edge slopes
/// away.
void look_wider(FoundEdge& edge, const Patch& patch, const cv::Mat& step, EdgeGuess guess, double half) {
  if (edge.support >= kLeastEdgeSeen) return;
  guess.window = std::clamp(0.8 * half, guess.window, 150.0);
  guess.prior_sigma = std::max(guess.prior_sigma, 0.4 * half);
  const FoundEdge wider = search_edge(step, patch.inside, guess);
  if (wider.support >= std::max(kLeastEdgeSeen, 2 * edge.support)) edge = wider;
}

}  // namespace

BarPatch patch_of(const Bar& bar, const Photo& photo, const Ground& ground, double aside_mm) {
  const GroundPoint axis = bar.along();
  const double margin_x = std::max({160.0, 5 * bar.cell_mm, 1.6 * bar.width_mm}),
               margin_y = std::max({60.0, 4 * bar.cell_mm, 0.4 * bar.width_mm, aside_mm});
  BarPatch b{bar, {}, {}, {}};
  b.place = patch_frame(ground, photo.rgb.size(), (bar.start + bar.end) * 0.5, std::atan2(axis.y, axis.x),
                        bar.length() / 2 + margin_x, bar.width_mm / 2 + margin_y, kPatchPixels);
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

LongEdges search_long_edges(const BarPatch& b) {
  const double half = b.half, cell = b.cell;
  EdgeGuess guess;
  guess.x0 = b.x0, guess.x1 = b.x1;
  guess.window = std::clamp(std::max(2.5 * cell, 0.35 * half), 6.0, 60.0);
  guess.prior_sigma = std::max(1.2 * cell, 2.0);
  guess.sign = 1;
  guess.y0 = guess.y1 = b.y_middle - half;
  LongEdges edges;
  edges.upper = search_edge(b.step, b.patch.inside, guess);
  look_wider(edges.upper, b.patch, b.step, guess, half);
  guess.sign = -1;
  guess.y0 = guess.y1 = b.y_middle + half;
  edges.lower = search_edge(b.step, b.patch.inside, guess);
  look_wider(edges.lower, b.patch, b.step, guess, half);

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
    (upper_leads ? edges.lower : edges.upper) = search_edge(b.step, b.patch.inside, guess);
  }
  return edges;
}

}  // namespace lotwear
