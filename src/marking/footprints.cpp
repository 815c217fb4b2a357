#include "marking/footprints.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/free_outline.hpp"
#include "marking/shape_edges.hpp"

namespace lotwear {

namespace {

Kind loose_kind(FinderKind kind) {
  switch (kind) {
    case FinderKind::arrow: return Kind::arrow_straight;
    case FinderKind::accessible_symbol: return Kind::accessible_symbol;
    case FinderKind::legend: return Kind::legend;
    case FinderKind::yield_line: return Kind::yield_line;
    case FinderKind::curb: return Kind::curb;
    default: return Kind::other;
  }
}

}  // namespace

Extent extent_of(const std::vector<GroundRing>& rings) {
  std::vector<cv::Point2f> points;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) points.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  }
  if (points.size() < 3) return {};
  const cv::RotatedRect box = cv::minAreaRect(points);
  return {static_cast<double>(std::max(box.size.width, box.size.height)), static_cast<double>(std::min(box.size.width, box.size.height))};
}

bool keeps_to_drawing(const Piece& piece, const Reading& reading, bool letter) {
  // nearly all coat is there, and the drawing misses a third of it: it is no drawing of this
  constexpr double kMostCoat = 0.75, kOfMostCoat = 0.64;
  if (reading.shape && piece.coat > kMostCoat && reading.shape->agreement < kOfMostCoat) return false;
  return !letter && reading.shape && (reading.explained || (reading.vote_shape > 0.6 && reading.shape->agreement > 0.55));
}

Footprint shaped_footprint(const Piece& piece, Reading& reading, const Sight& sight, const std::vector<Shape>& shapes, bool letter) {
  const Patch patch = patch_around(piece, sight, reading.seen_in, Detail::photo);
  Footprint footprint;
  footprint.cut_off = piece.at_border;
  if (keeps_to_drawing(piece, reading, letter)) {
    FittedShape& fitted = *reading.shape;
    refine_shape(fitted, patch, shapes, piece.cell_mm);
    const double clear = std::clamp((fitted.agreement - fitted.runner_up) / 0.08, 0.0, 1.0);
    footprint.kind = fitted.kind;
    footprint.kind_confidence = {std::clamp(0.45 + 0.35 * clear + 0.2 * reading.vote_shape, 0.0, 0.99)};
    double settled_error = 0;
    for (const GroundRing& ring : fitted.rings) {
      const SettledRing settled = settle_ring(ring, patch, piece.cell_mm, 1.0);
      const double ratio = area(settled.ring) / std::max(1.0, area(ring));
      footprint.rings.push_back(ratio > 0.75 && ratio < 1.33 ? settled.ring : ring);
      settled_error = std::max(settled_error, settled.edge_error_mm);
    }
    footprint.edge_error = {std::min(fitted.edge_error_mm, settled_error)};
    footprint.length_mm = fitted.pose.length_mm;
  } else {
    const FreeOutline outline = free_outline(patch, piece.cell_mm, letter ? Outlined::letters : Outlined::anything);
    footprint.kind = loose_kind(piece.likely());
    if (is_arrow(footprint.kind) && reading.shape && is_arrow(reading.shape->kind)) footprint.kind = reading.shape->kind;
    // many strokes that no arrow fits are letters, if the finder's word for arrow is a weak one
    if (is_arrow(footprint.kind) && vote(piece, FinderKind::arrow) < 0.5 && reading.bars.bars.size() >= 4) footprint.kind = Kind::legend;
    footprint.kind_confidence = {0.7 * vote(piece, piece.likely())};
    footprint.rings = outline.rings;
    footprint.edge_error = {outline.edge_error_mm};
  }
  const Extent extent = extent_of(footprint.rings);
  if (footprint.length_mm == 0) footprint.length_mm = extent.length_mm;
  footprint.width_mm = extent.width_mm;
  return footprint;
}

std::vector<Footprint> field_footprints(const Piece& piece, const PaintedField& field) {
  std::vector<Footprint> found;
  if (field.symbol) {
    Footprint symbol;
    symbol.kind = Kind::accessible_symbol;
    symbol.kind_confidence = {std::clamp(0.5 + 0.5 * field.symbol->agreement, 0.0, 0.97)};
    symbol.rings = field.symbol->rings;
    symbol.edge_error = {field.symbol->edge_error_mm};
    symbol.length_mm = field.symbol->pose.length_mm;
    symbol.width_mm = extent_of(symbol.rings).width_mm;
    symbol.cut_off = piece.at_border;
    found.push_back(std::move(symbol));
  }
  Footprint around;
  around.kind = Kind::other;
  around.kind_confidence = {0.4};
  around.rings = {field.outline};
  around.edge_error = {field.edge_error_mm};
  const Extent extent = extent_of({field.outline});
  around.length_mm = extent.length_mm;
  around.width_mm = extent.width_mm;
  around.cut_off = piece.at_border;
  found.push_back(std::move(around));
  return found;
}

Footprint triangle_footprint(const Piece& piece, const Reading& reading, const Sight& sight) {
  const Patch patch = patch_around(piece, sight, Map::settled, Detail::photo);
  const SettledRing settled = settle_ring(reading.triangle, patch, piece.cell_mm, 1.5);
  Footprint footprint;
  footprint.kind = Kind::yield_line;
  footprint.cut_off = piece.at_border;
  footprint.kind_confidence = {std::clamp(0.5 + 0.5 * vote(piece, FinderKind::yield_line), 0.0, 0.97)};
  footprint.rings = {settled.ring};
  footprint.edge_error = {settled.edge_error_mm};
  const Extent extent = extent_of(footprint.rings);
  footprint.length_mm = extent.length_mm;
  footprint.width_mm = extent.width_mm;
  return footprint;
}

Footprint group_footprint(const BarGroup& group, const std::vector<FittedBar>& bars) {
  Footprint footprint;
  footprint.kind = group.kind;
  footprint.kind_confidence = {group.confidence};
  double width = 0, total = 0, variance = 0;
  for (const std::size_t i : group.bars) {
    const FittedBar& fitted = bars[i];
    if (fitted.strokes.empty()) footprint.rings.push_back(fitted.ring);
    footprint.rings.insert(footprint.rings.end(), fitted.strokes.begin(), fitted.strokes.end());
    const double l = fitted.bar.length();
    width += fitted.bar.width_mm * l;
    variance += fitted.edge_error_mm * fitted.edge_error_mm * l;
    total += l;
    footprint.cut_off = footprint.cut_off || fitted.bar.start_cut || fitted.bar.end_cut;
  }
  footprint.width_mm = width / std::max(total, 1.0);
  footprint.edge_error = {std::sqrt(variance / std::max(total, 1.0))};
  const FittedBar& first = bars[group.bars.front()];
  footprint.length_mm = group.bars.size() == 1 ? first.bar.length() - first.gaps_mm : extent_of(footprint.rings).length_mm;
  return footprint;
}

std::vector<Footprint> gather(std::vector<Footprint> loose, Kind kind, double least_reach_mm) {
  std::vector<std::vector<GroundRing>> rings;
  std::vector<double> sizes = {0};
  for (const Footprint& f : loose) {
    rings.push_back(f.rings);
    sizes.push_back(f.length_mm);
  }
  // words of one message stand about a letter's height apart
  std::nth_element(sizes.begin(), sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2), sizes.end());
  const double reach_mm = std::max(least_reach_mm, 1.3 * sizes[sizes.size() / 2]);
  std::vector<Footprint> gathered;
  for (const auto& set : near_each_other(rings, reach_mm)) {
    Footprint whole = loose[set.front()];
    whole.kind = kind;
    for (std::size_t k = 1; k < set.size(); ++k) {
      const Footprint& part = loose[set[k]];
      whole.rings.insert(whole.rings.end(), part.rings.begin(), part.rings.end());
      whole.edge_error = std::max(whole.edge_error, part.edge_error);
      whole.kind_confidence = std::max(whole.kind_confidence, part.kind_confidence);
      whole.cut_off = whole.cut_off || part.cut_off;
      if (whole.doubts.empty()) whole.doubts = part.doubts;
    }
    const Extent extent = extent_of(whole.rings);
    whole.length_mm = extent.length_mm;
    whole.width_mm = extent.width_mm;
    gathered.push_back(std::move(whole));
  }
  return gathered;
}

}  // namespace lotwear
