#include "marking/plane_evidence.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "ground/straight_edges.hpp"
#include "marking/scale.hpp"

namespace lotwear {

namespace {

constexpr double kShortestEdgePx = 60;  // a shorter one knows its direction too badly to say anything
constexpr double kReachPx = 8;          // of the search about a fitted edge: it was fitted to a few pixels
constexpr double kRaggedPx =
    1.2;  // a rim wanders slowly too, which its own scatter does not show: 0.7 degrees of 100 pixels
constexpr double kSamePx = 12;         // an edge of the map this near a fitted one is the same edge
constexpr double kSurely = 0.45;       // a kind less sure than this has no usual size
constexpr double kLengthError = 0.03;  // of a shape's own length: tips wear off first
constexpr double kLeastSupport = 0.2;  // share of its edges with a step; below it a stripe's width is half guessed

/// The stretch between two ring points as the photo shows it.
std::optional<EdgeLine> edge_along(const Photo& photo, ImagePoint a, ImagePoint b) {
  if (length(b - a) < kShortestEdgePx) return std::nullopt;
  const ImagePoint inset = (b - a) * 0.06;  // corners are round
  EdgeSearch search;
  search.reach_px = kReachPx;
  search.most_profiles = 96;
  auto edge = fit_edge(photo, a + inset, b - inset, search);
  if (edge) edge->angle_error = std::hypot(edge->angle_error, kRaggedPx / length(b - a));
  return edge;
}

/// A stripe's long edge where wear took too much of it to be looked at again: as the whole bar was fitted.
EdgeLine as_fitted(ImagePoint a, ImagePoint b, double error_px) {
  EdgeLine edge;
  edge.from = a, edge.to = b;
  edge.offset_error = std::max(1.0, error_px);
  edge.angle_error = 3.5 * edge.offset_error / length(b - a);  // 12^0.5: an even scatter about a line
  return edge;
}

bool inside(ImagePoint p, cv::Size photo, double margin) {
  return p.x > margin && p.y > margin && p.x < photo.width - margin && p.y < photo.height - margin;
}

/// A bar's ring without the points that only follow a bend of its long edges.
GroundRing corners_of(const FittedBar& bar) {
  const std::size_t half = bar.ring.size() / 2;
  return {bar.ring.front(), bar.ring[half - 1], bar.ring[half], bar.ring.back()};
}

/// How straight and square a thing is painted (common practice, no source): a stripe's two edges come from one gun, its
/// ends are cut by eye; a stencil keeps its angles.
constexpr double kDegree = std::numbers::pi / 180;
constexpr double kStripeStraight = 0.15 * kDegree, kEndSquare = 1.5 * kDegree, kStencilTrue = 0.3 * kDegree;
constexpr double kRangeInSigmas = 4;  // a proportion's range, low to high

double direction(GroundPoint d) { return std::atan2(d.y, d.x); }

/// A drawing's own line is never taken for an edge: it agrees with the ground that it was fitted on, whatever that is.
std::optional<EdgeLine> edge_of_ring(const Photo& photo, const Ground& ground, GroundPoint from, GroundPoint to) {
  const ImagePoint a = ground.image_from_ground(from), b = ground.image_from_ground(to);
  if (!inside((a + b) * 0.5, photo.rgb.size(), 3 * kReachPx)) return std::nullopt;
  return edge_along(photo, a, b);
}

/// Strokes of symbols and letters look like stripes too, but end as they please.
bool surely_striped(const Bar& bar) {
  double striped = 0;
  for (const FinderKind kind :
       {FinderKind::line, FinderKind::stop_line, FinderKind::crosswalk, FinderKind::hatching, FinderKind::curb}) {
    striped += bar.votes[static_cast<std::size_t>(kind)];
  }
  return striped > kSurely;
}

DrawnObject stripe_edges(const FittedBar& bar, const Photo& photo, const Ground& ground) {
  const GroundRing corners = corners_of(bar);
  DrawnObject object;
  for (std::size_t i = 0; i < 4; ++i) {
    const bool end = i % 2 == 1;
    if (end && (i == 1 ? bar.bar.end_cut : bar.bar.start_cut)) continue;
    auto edge = edge_of_ring(photo, ground, corners[i], corners[(i + 1) % 4]);
    // a bar fitted on a wrong plane may reach behind the lens, where nothing of it was seen
    const bool in_front = ground.image_from_ground.depth(corners[i]) > 0 && ground.image_from_ground.depth(corners[(i + 1) % 4]) > 0;
    if (!edge && !end && in_front) {
      const ImagePoint a = ground.image_from_ground(corners[i]), b = ground.image_from_ground(corners[(i + 1) % 4]);
      const GroundPixel pixel = ground_pixel(ground, (a + b) * 0.5);
      if (length(b - a) >= kShortestEdgePx) edge = as_fitted(a, b, bar.edge_error_mm / std::max(1e-9, pixel.across_mm));
    }
    if (edge) {
      object.push_back({*edge, end ? std::numbers::pi / 2 : 0, end ? kEndSquare : kStripeStraight, {}});
    }
  }
  return object;
}

DrawnObject shape_edges(const DrawnShape& drawn, const Photo& photo, const Ground& ground) {
  const Shape& shape = *drawn.shape;
  const std::vector<GroundRing> usual = outline(shape, drawn.length_mm, drawn.values);
  std::vector<std::vector<GroundRing>> up, down;
  std::vector<double> sigmas;
  for (std::size_t q = 0; q < drawn.values.size(); ++q) {
    const Proportion& p = shape.proportions[q];
    constexpr double kStep = 0.02;  // of its range; kept inside
    std::vector<double> more = drawn.values, less = drawn.values;
    more[q] = std::min(p.high, more[q] + kStep * (p.high - p.low));
    less[q] = std::max(p.low, less[q] - kStep * (p.high - p.low));
    up.push_back(outline(shape, drawn.length_mm, more));
    down.push_back(outline(shape, drawn.length_mm, less));
    sigmas.push_back((p.high - p.low) / kRangeInSigmas / std::max(1e-9, more[q] - less[q]));
  }
  DrawnObject object;
  for (std::size_t r = 0; r < usual.size() && r < drawn.drawing.size(); ++r) {
    const std::size_t n = usual[r].size();
    if (drawn.drawing[r].size() != n) continue;
    for (std::size_t i = 0; i < n; ++i) {
      const std::size_t j = (i + 1) % n;
      const auto edge = edge_of_ring(photo, ground, drawn.drawing[r][i], drawn.drawing[r][j]);
      if (!edge) continue;
      DrawnEdge one{*edge, direction(usual[r][j] - usual[r][i]), kStencilTrue, {}};
      for (std::size_t q = 0; q < sigmas.size(); ++q) {
        // a proportion that changes the number of points (a rounder elbow) is left where it is
        const bool same = up[q].size() > r && down[q].size() > r && up[q][r].size() == n && down[q][r].size() == n;
        const double turned =
            same ? direction(up[q][r][j] - up[q][r][i]) - direction(down[q][r][j] - down[q][r][i]) : 0;
        one.by_proportion.push_back(std::remainder(turned, 2 * std::numbers::pi) * sigmas[q]);
      }
      object.push_back(std::move(one));
    }
  }
  return object;
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

/// Edges of the map that no object has.
std::vector<EdgeLine> stray_edges(const std::vector<DrawnObject>& objects, const Photo& photo, const PaintMap& paint) {
  std::vector<EdgeLine> strays;
  for (const EdgeLine& edge : straight_edges(photo, paint)) {
    const bool known = std::any_of(objects.begin(), objects.end(), [&](const DrawnObject& object) {
      return std::any_of(object.begin(), object.end(), [&](const DrawnEdge& e) { return same_edge(e.seen, edge); });
    });
    if (!known) strays.push_back(edge);
  }
  return strays;
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

/// Widths of a marking's bars; the rails of a ladder are not as wide as its rungs, hatching has the width of its
/// border.
void add_widths(std::vector<SizeFamily>& families, const BarGroup& group, const std::vector<FittedBar>& bars,
                const Ground& ground) {
  std::vector<std::pair<GroundPoint, SizeFamily>> by_direction;
  for (const std::size_t i : group.bars) {
    if (bars[i].support < kLeastSupport || bars[i].curved) continue;
    const GroundPoint along = bars[i].bar.along();
    auto at = std::find_if(by_direction.begin(), by_direction.end(), [&](const auto& known) {
      return group.kind != Kind::crosswalk || std::abs(cross(known.first, along)) < 0.3;
    });
    if (at == by_direction.end()) at = by_direction.insert(at, {along, family_of(group.kind)});
    at->second.seen.push_back(width_of(bars[i], ground));
  }
  for (auto& [along, family] : by_direction)
    families.push_back(std::move(family));
}

/// Bars of a crosswalk are equally long, whatever the length.
void add_bar_lengths(std::vector<SizeFamily>& families, const BarGroup& group, const std::vector<FittedBar>& bars,
                     const Ground& ground) {
  if (group.kind != Kind::crosswalk) return;
  SizeFamily family;
  family.unusual = 1;
  family.spread = 0.03;
  family.is_width = false;
  for (const std::size_t i : group.bars) {
    const Bar& bar = bars[i].bar;
    if (bar.start_cut || bar.end_cut || bars[i].support < kLeastSupport) continue;
    family.seen.push_back(
        {ground.image_from_ground(bar.start), ground.image_from_ground(bar.end), std::nullopt, kLengthError, false});
  }
  if (family.seen.size() > 1) families.push_back(std::move(family));
}

void add_shape(SizesSeen& sizes, const DrawnShape& drawn, const Ground& ground, cv::Size photo) {
  ProportionSeen proportion;
  bool cut = false;
  double low = 1e300, high = -1e300;  // along the drawing, of what lies in the photo
  GroundPoint foot;
  const auto take = [&](GroundPoint p) {
    if (!inside(ground.image_from_ground(p), photo, 2)) {
      cut = true;
      return;
    }
    const double along = dot(drawn.pointing, p);
    if (along < low) low = along, foot = p;
    high = std::max(high, along);
  };
  for (const GroundRing& ring : drawn.rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      proportion.outline.push_back(ground.image_from_ground(ring[i]));
      constexpr int kSteps = 12;  // of a side: where the photo's edge cuts it
      for (int k = 0; k < kSteps; ++k)
        take(ring[i] + (ring[(i + 1) % ring.size()] - ring[i]) * (static_cast<double>(k) / kSteps));
    }
  }
  if (high <= low) return;
  // the length is taken along the drawing, from its foot on; a tip to one side of it is no longer shape
  proportion.tail = ground.image_from_ground(foot);
  proportion.tip = ground.image_from_ground(foot + drawn.pointing * (high - low));
  SizeFamily family = family_of(drawn.shape->kind);
  family.seen.push_back({proportion.tail, proportion.tip, std::nullopt, kLengthError, cut});
  if (!family.usual.empty()) sizes.families.push_back(std::move(family));
  if (cut) return;
  const UsualProportion usual = usual_proportion(*drawn.shape);
  proportion.usual = usual.width_over_length;
  proportion.spread = usual.spread;
  sizes.proportions.push_back(std::move(proportion));
}

}  // namespace

PaintSeen paint_seen(const Photo& photo, const PaintMap& paint, const Ground& ground,
                     const std::vector<FittedBar>& bars, const std::vector<BarGroup>& groups,
                     const std::vector<DrawnShape>& drawn) {
  PaintSeen seen;
  for (const FittedBar& bar : bars) {
    if (surely_striped(bar.bar) && !bar.curved) seen.objects.push_back(stripe_edges(bar, photo, ground));
  }
  for (const DrawnShape& d : drawn) {
    seen.objects.push_back(shape_edges(d, photo, ground));
    add_shape(seen.sizes, d, ground, photo.rgb.size());
  }
  std::erase_if(seen.objects, [](const DrawnObject& o) { return o.empty(); });
  seen.edges = stray_edges(seen.objects, photo, paint);
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
    for (const SizeFamily& one : lines)
      all.seen.insert(all.seen.end(), one.seen.begin(), one.seen.end());
    seen.sizes.families.push_back(std::move(all));
  }
  std::erase_if(seen.sizes.families,
                [](const SizeFamily& f) { return f.seen.empty() || (f.usual.empty() && f.seen.size() < 2); });
  return seen;
}

}  // namespace lotwear
