#include "marking/plane_evidence.hpp"

#include <algorithm>
#include <cmath>

#include "ground/straight_edges.hpp"
#include "marking/scale.hpp"

namespace lotwear {

namespace {

constexpr double kShortestEdgePx = 60;    // a shorter one knows its direction too badly to say anything
constexpr double kReachPx = 8;            // of the search about a fitted edge: it was fitted to a few pixels
constexpr double kSamePx = 12;            // an edge of the map this near a fitted one is the same edge
constexpr std::size_t kMostEdges = 36;    // the longest carry nearly all; time grows with the square
constexpr double kSurely = 0.45;          // a kind less sure than this has no usual size
constexpr double kLengthError = 0.03;     // of a shape's own length: tips wear off first
constexpr double kLeastSupport = 0.2;     // share of its edges with a step; below it a stripe's width is half guessed

/// The stretch between two ring points as the photo shows it; the ring's own line, with its error, where wear took the edge.
std::optional<EdgeLine> edge_along(const Photo& photo, ImagePoint a, ImagePoint b, double error_px) {
  const double long_px = length(b - a);
  if (long_px < kShortestEdgePx) return std::nullopt;
  const ImagePoint inset = (b - a) * 0.06;   // corners are round
  EdgeSearch search;
  search.reach_px = kReachPx;
  search.most_profiles = 96;
  if (const auto edge = fit_edge(photo, a + inset, b - inset, search)) return edge;
  EdgeLine edge;
  edge.from = a, edge.to = b;
  edge.offset_error = std::max(1.0, error_px);
  edge.angle_error = 3.5 * edge.offset_error / long_px;   // 12^0.5: an even scatter about a line
  return edge;
}

double error_in_pixels(const Ground& ground, ImagePoint at, double error_mm) {
  return error_mm / std::max(1e-9, ground_pixel(ground, at).across_mm);
}

bool inside(ImagePoint p, cv::Size photo, double margin) {
  return p.x > margin && p.y > margin && p.x < photo.width - margin && p.y < photo.height - margin;
}

void add_ring_edges(std::vector<EdgeLine>& edges, const Photo& photo, const Ground& ground, const GroundRing& ring, double error_mm) {
  const ImageRing seen = ground.image_from_ground(ring);
  for (std::size_t i = 0; i < seen.size(); ++i) {
    const ImagePoint a = seen[i], b = seen[(i + 1) % seen.size()];
    if (!inside((a + b) * 0.5, photo.rgb.size(), 3 * kReachPx)) continue;
    if (const auto edge = edge_along(photo, a, b, error_in_pixels(ground, (a + b) * 0.5, error_mm))) edges.push_back(*edge);
  }
}

/// A bar's ring without the points that only follow a bend of its long edges.
GroundRing corners_of(const FittedBar& bar) {
  const std::size_t half = bar.ring.size() / 2;
  return {bar.ring.front(), bar.ring[half - 1], bar.ring[half], bar.ring.back()};
}

bool same_edge(const EdgeLine& known, const EdgeLine& other) {
  const ImagePoint d = known.to - known.from;
  const double long_px = length(d);
  for (const ImagePoint p : {other.from, other.to}) {
    const double along = dot(d, p - known.from) / (long_px * long_px);
    if (std::abs(cross(d, p - known.from)) / long_px > kSamePx || along < -0.1 || along > 1.1) return false;
  }
  return true;
}

std::vector<EdgeLine> with_others_of_map(std::vector<EdgeLine> edges, const Photo& photo, const PaintMap& paint) {
  const std::size_t fitted = edges.size();
  for (const EdgeLine& edge : straight_edges(photo, paint)) {
    const bool known = std::any_of(edges.begin(), edges.begin() + static_cast<std::ptrdiff_t>(fitted),
                                   [&](const EdgeLine& e) { return same_edge(e, edge); });
    if (!known) edges.push_back(edge);
  }
  std::stable_sort(edges.begin(), edges.end(),
                   [](const EdgeLine& a, const EdgeLine& b) { return length(a.to - a.from) > length(b.to - b.from); });
  if (edges.size() > kMostEdges) edges.resize(kMostEdges);
  return edges;
}

SizeSeen width_of(const FittedBar& bar, const Ground& ground) {
  const GroundRing corners = corners_of(bar);
  const auto seen = [&](GroundPoint p) { return ground.image_from_ground(p); };
  SizeSeen width;
  width.from = seen((corners[0] + corners[1]) * 0.5);
  width.to = seen((corners[2] + corners[3]) * 0.5);
  width.axis = SizeSeen::Axis{seen(bar.bar.start), seen(bar.bar.end)};
  width.error = std::clamp(1.4 * bar.edge_error_mm / std::max(1.0, bar.bar.width_mm), 0.01, 0.3);
  return width;
}

/// Widths of a marking's bars; the rails of a ladder are not as wide as its rungs.
void add_widths(std::vector<SizeFamily>& families, const BarGroup& group, const std::vector<FittedBar>& bars, const Ground& ground) {
  std::vector<std::pair<GroundPoint, SizeFamily>> by_direction;
  for (const std::size_t i : group.bars) {
    if (bars[i].support < kLeastSupport) continue;
    const GroundPoint along = bars[i].bar.along();
    auto at = std::find_if(by_direction.begin(), by_direction.end(),
                           [&](const auto& known) { return std::abs(cross(known.first, along)) < 0.3; });
    if (at == by_direction.end()) at = by_direction.insert(at, {along, family_of(group.kind)});
    at->second.seen.push_back(width_of(bars[i], ground));
  }
  for (auto& [along, family] : by_direction) families.push_back(std::move(family));
}

/// Bars of a crosswalk are equally long, whatever the length.
void add_bar_lengths(std::vector<SizeFamily>& families, const BarGroup& group, const std::vector<FittedBar>& bars, const Ground& ground) {
  if (group.kind != Kind::crosswalk) return;
  SizeFamily family;
  family.unusual = 1;
  family.spread = 0.03;
  family.is_width = false;
  for (const std::size_t i : group.bars) {
    const Bar& bar = bars[i].bar;
    if (bar.start_cut || bar.end_cut || bars[i].support < kLeastSupport) continue;
    family.seen.push_back({ground.image_from_ground(bar.start), ground.image_from_ground(bar.end), std::nullopt, kLengthError});
  }
  if (family.seen.size() > 1) families.push_back(std::move(family));
}

void add_shape(SizesSeen& sizes, const DrawnShape& drawn, const Ground& ground, cv::Size photo) {
  ProportionSeen proportion;
  GroundPoint middle;
  double points = 0;
  for (const GroundRing& ring : drawn.rings) {
    for (const GroundPoint& p : ring) {
      middle = middle + p;
      points += 1;
      proportion.outline.push_back(ground.image_from_ground(p));
      if (!inside(proportion.outline.back(), photo, 0)) return;   // what the photo cuts has no length
    }
  }
  middle = middle * (1 / points);
  proportion.tail = ground.image_from_ground(middle - drawn.pointing * (drawn.length_mm / 2));
  proportion.tip = ground.image_from_ground(middle + drawn.pointing * (drawn.length_mm / 2));
  const UsualProportion usual = usual_proportion(*drawn.shape);
  proportion.usual = usual.width_over_length;
  proportion.spread = usual.spread;
  SizeFamily family = family_of(drawn.shape->kind);
  family.seen.push_back({proportion.tail, proportion.tip, std::nullopt, kLengthError});
  if (!family.usual.empty()) sizes.families.push_back(std::move(family));
  sizes.proportions.push_back(std::move(proportion));
}

}  // namespace

PaintSeen paint_seen(const Photo& photo, const PaintMap& paint, const Ground& ground, const std::vector<FittedBar>& bars,
                     const std::vector<BarGroup>& groups, const std::vector<DrawnShape>& drawn) {
  PaintSeen seen;
  for (const FittedBar& bar : bars) add_ring_edges(seen.edges, photo, ground, corners_of(bar), bar.edge_error_mm);
  for (const DrawnShape& d : drawn) {
    for (const GroundRing& ring : d.rings) add_ring_edges(seen.edges, photo, ground, ring, d.edge_error_mm);
    add_shape(seen.sizes, d, ground, photo.rgb.size());
  }
  seen.edges = with_others_of_map(std::move(seen.edges), photo, paint);
  std::vector<SizeFamily> lines;
  for (const BarGroup& group : groups) {
    if (group.confidence < kSurely) continue;
    if (group.kind == Kind::line) {
      add_widths(lines, group, bars, ground);
      continue;
    }
    add_widths(seen.sizes.families, group, bars, ground);
    add_bar_lengths(seen.sizes.families, group, bars, ground);
  }
  if (!lines.empty()) {
    SizeFamily all = family_of(Kind::line);
    for (const SizeFamily& one : lines) all.seen.insert(all.seen.end(), one.seen.begin(), one.seen.end());
    seen.sizes.families.push_back(std::move(all));
  }
  std::erase_if(seen.sizes.families, [](const SizeFamily& f) { return f.seen.empty() || (f.usual.empty() && f.seen.size() < 2); });
  return seen;
}

}  // namespace lotwear
