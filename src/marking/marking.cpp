#include "marking/marking.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/bars.hpp"
#include "marking/free_outline.hpp"
#include "marking/groups.hpp"
#include "marking/pieces.hpp"
#include "marking/scale.hpp"
#include "marking/shape_fit.hpp"

namespace lotwear {

namespace {

constexpr double kShapePatchPixels = 0.7e6;
constexpr double kFewestPixelsAcross = 10;   // a stripe narrower than this in the photo cannot be measured, only guessed

/// The part of a ring inside the photo (Sutherland and Hodgman 1974), in photo pixels; empty when none is.
ImageRing inside_photo(ImageRing ring, cv::Size photo) {
  const auto cut = [](const ImageRing& in, auto inside, auto crossing) {
    ImageRing out;
    for (std::size_t i = 0; i < in.size(); ++i) {
      const ImagePoint a = in[i], b = in[(i + 1) % in.size()];
      if (inside(a)) out.push_back(a);
      if (inside(a) != inside(b)) out.push_back(crossing(a, b));
    }
    return out;
  };
  const double w = photo.width, h = photo.height;
  const auto at_x = [](double x) { return [x](ImagePoint a, ImagePoint b) { return ImagePoint{x, a.y + (b.y - a.y) * (x - a.x) / (b.x - a.x)}; }; };
  const auto at_y = [](double y) { return [y](ImagePoint a, ImagePoint b) { return ImagePoint{a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y), y}; }; };
  ring = cut(ring, [](ImagePoint p) { return p.x >= 0; }, at_x(0));
  ring = cut(ring, [w](ImagePoint p) { return p.x <= w; }, at_x(w));
  ring = cut(ring, [](ImagePoint p) { return p.y >= 0; }, at_y(0));
  ring = cut(ring, [h](ImagePoint p) { return p.y <= h; }, at_y(h));
  return ring;
}

bool bar_like(const Piece& piece) {
  switch (piece.likely()) {
    case FinderKind::line:
    case FinderKind::stop_line:
    case FinderKind::crosswalk:
    case FinderKind::hatching: return true;
    default: return false;
  }
}

Patch patch_around(const Piece& piece, const Photo& photo, const PaintMap& paint, const Ground& ground) {
  double x0 = 1e12, y0 = 1e12, x1 = -1e12, y1 = -1e12;
  for (int r = 0; r < piece.box.height; ++r) {
    for (int c = 0; c < piece.box.width; ++c) {
      if (piece.mask.at<uchar>(r, c) == 0) continue;
      const GroundPoint g = ground.ground_from_image({(piece.box.x + c + 0.5) * paint.photo_per_cell, (piece.box.y + r + 0.5) * paint.photo_per_cell});
      x0 = std::min(x0, g.x), y0 = std::min(y0, g.y), x1 = std::max(x1, g.x), y1 = std::max(y1, g.y);
    }
  }
  const double margin = std::max(80.0, 4 * piece.cell_mm);
  const PatchPlace place = patch_frame(ground, photo.rgb.size(), {(x0 + x1) / 2, (y0 + y1) / 2}, 0, (x1 - x0) / 2 + margin,
                                       (y1 - y0) / 2 + margin, kShapePatchPixels);
  Patch patch = cut_patch(photo, paint, ground, place, piece.contrast);
  // neighbours of other pieces in the same box are not this marking's paint
  cv::Mat own(paint.footprint.size(), CV_8U, cv::Scalar(0)), grown;
  piece.mask.copyTo(own(piece.box));
  cv::dilate(own, grown, cv::getStructuringElement(cv::MORPH_RECT, {5, 5}));
  cv::Mat share = paint.footprint.clone();
  share.setTo(0, grown == 0);
  patch.footprint = map_in_patch(share, paint.photo_per_cell, ground, place);
  return patch;
}

std::vector<Shape> shapes_for(const Piece& piece, const std::vector<Shape>& shapes) {
  std::vector<Shape> fitting;
  const FinderKind likely = piece.likely();
  for (const Shape& shape : shapes) {
    const bool fits = likely == FinderKind::arrow             ? is_arrow(shape.kind)
                      : likely == FinderKind::accessible_symbol ? shape.kind == Kind::accessible_symbol
                                                                : false;
    if (fits) fitting.push_back(shape);
  }
  return fitting;
}

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

struct Extent { double length_mm = 0, width_mm = 0; };

Extent extent_of(const std::vector<GroundRing>& rings) {
  std::vector<cv::Point2f> points;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) points.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  }
  if (points.size() < 3) return {};
  const cv::RotatedRect box = cv::minAreaRect(points);
  return {static_cast<double>(std::max(box.size.width, box.size.height)), static_cast<double>(std::min(box.size.width, box.size.height))};
}

Footprint shaped_footprint(const Piece& piece, const Photo& photo, const PaintMap& paint, const Ground& ground,
                           const std::vector<Shape>& shapes) {
  const Patch patch = patch_around(piece, photo, paint, ground);
  Footprint footprint;
  footprint.kind = loose_kind(piece.likely());
  footprint.kind_confidence = {piece.votes[static_cast<std::size_t>(piece.likely())] * 0.9};
  footprint.cut_off = piece.at_border;
  const std::vector<Shape> candidates = shapes_for(piece, shapes);
  if (!candidates.empty()) {
    if (auto fitted = fit_shape(patch, candidates, piece.cell_mm)) {
      const double clear = std::clamp((fitted->agreement - fitted->runner_up) / 0.08, 0.0, 1.0);
      footprint.kind = fitted->kind;
      footprint.kind_confidence = {footprint.kind_confidence.value * (fitted->runner_up > 0 ? 0.55 + 0.45 * clear : 1.0)};
      if (fitted->agreement > 0.62) {
        refine_shape(*fitted, patch, candidates, piece.cell_mm);
        footprint.rings = fitted->rings;
        footprint.edge_error = {fitted->edge_error_mm};
        footprint.length_mm = fitted->pose.length_mm;
      }
    }
  }
  if (footprint.rings.empty()) {
    const FreeOutline outline = free_outline(patch, piece.cell_mm);
    footprint.rings = outline.rings;
    footprint.edge_error = {outline.edge_error_mm};
  }
  const Extent extent = extent_of(footprint.rings);
  if (footprint.length_mm == 0) footprint.length_mm = extent.length_mm;
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
    footprint.rings.push_back(fitted.ring);
    const double l = fitted.bar.length();
    width += fitted.bar.width_mm * l;
    variance += fitted.edge_error_mm * fitted.edge_error_mm * l;
    total += l;
    footprint.cut_off = footprint.cut_off || fitted.bar.start_cut || fitted.bar.end_cut;
  }
  footprint.width_mm = width / std::max(total, 1.0);
  footprint.edge_error = {std::sqrt(variance / std::max(total, 1.0))};
  footprint.length_mm = group.bars.size() == 1 ? bars[group.bars.front()].bar.length() : extent_of(footprint.rings).length_mm;
  return footprint;
}

/// Merges letters into words and triangles into yield lines.
std::vector<Footprint> gather(std::vector<Footprint> loose, Kind kind, double reach_mm) {
  std::vector<std::vector<GroundRing>> rings;
  for (const Footprint& f : loose) rings.push_back(f.rings);
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
    }
    const Extent extent = extent_of(whole.rings);
    whole.length_mm = extent.length_mm;
    whole.width_mm = extent.width_mm;
    gathered.push_back(std::move(whole));
  }
  return gathered;
}

void scale_lengths(Footprint& footprint, double factor) {
  for (GroundRing& ring : footprint.rings) {
    for (GroundPoint& p : ring) p = p * factor;
  }
  footprint.edge_error = footprint.edge_error * factor;
  footprint.length_mm *= factor;
  footprint.width_mm *= factor;
}

/// Rings cut to the photo; a ring outside it is dropped.
void clip_to_photo(Footprint& footprint, const Ground& ground, cv::Size photo) {
  std::vector<GroundRing> kept;
  for (const GroundRing& ring : footprint.rings) {
    const ImageRing seen = inside_photo(ground.image_from_ground(ring), photo);
    if (seen.size() >= 3 && area(seen) > 20) kept.push_back(ground.ground_from_image(seen));
  }
  footprint.rings = std::move(kept);
}

double narrowest_photo_pixels(const Footprint& footprint, const Ground& ground) {
  // area over half the outline: the width of a stripe, a measure of thickness for other shapes
  double pixels = 0, around = 0;
  for (const GroundRing& ring : footprint.rings) {
    const ImageRing seen = ground.image_from_ground(ring);
    pixels += area(seen);
    around += perimeter(seen);
  }
  return around > 0 ? 2 * pixels / around : 0;
}

}  // namespace

Markings find_markings(const Photo& photo, const PaintMap& paint, const Ground& ground, const std::vector<Shape>& shapes) {
  const std::vector<Piece> pieces = find_pieces(paint, ground, photo.rgb.size());
  std::vector<Bar> bars;
  std::vector<Footprint> shaped, letters, triangles;
  for (const Piece& piece : pieces) {
    if (bar_like(piece)) {
      const std::vector<Bar> found = bars_of(piece, paint, ground);
      bars.insert(bars.end(), found.begin(), found.end());
      continue;
    }
    Footprint footprint = shaped_footprint(piece, photo, paint, ground, shapes);
    if (footprint.rings.empty()) continue;
    (footprint.kind == Kind::legend ? letters : footprint.kind == Kind::yield_line ? triangles : shaped).push_back(std::move(footprint));
  }
  bars = join_bars(std::move(bars));
  std::vector<FittedBar> fitted;
  for (const Bar& bar : bars) fitted.push_back(refine_bar(bar, photo, paint, ground));

  Markings markings{ground, std::move(shaped)};
  for (auto& f : gather(std::move(letters), Kind::legend, 450)) markings.footprints.push_back(std::move(f));
  for (auto& f : gather(std::move(triangles), Kind::yield_line, 450)) markings.footprints.push_back(std::move(f));
  const bool sheet = ground.source == "scale-sheet";
  for (const BarGroup& group : group_bars(fitted, sheet)) markings.footprints.push_back(group_footprint(group, fitted));

  if (!sheet) {
    std::vector<SizeSeen> seen;
    for (const Footprint& f : markings.footprints) {
      const bool stripe = f.kind == Kind::line || f.kind == Kind::stop_line || f.kind == Kind::crosswalk || f.kind == Kind::hatching;
      const double error = std::clamp(f.edge_error.value * 1.4 / std::max(1.0, f.width_mm), 0.01, 0.3);
      if (stripe) seen.push_back({f.kind, true, f.width_mm, error});
      else if (!f.cut_off) seen.push_back({f.kind, false, f.length_mm, 0.04});
    }
    if (const auto scale = find_scale(ground, seen)) {
      markings.ground = with_scale(ground, scale->factor, scale->source, scale->error);
      for (Footprint& f : markings.footprints) scale_lengths(f, scale->factor);
    }
  }
  for (Footprint& f : markings.footprints) clip_to_photo(f, markings.ground, photo.rgb.size());
  std::erase_if(markings.footprints, [&](const Footprint& f) {
    return f.rings.empty() || narrowest_photo_pixels(f, markings.ground) < kFewestPixelsAcross;
  });
  const GroundPoint feet = markings.ground.ground_from_image({photo.rgb.cols / 2.0, static_cast<double>(photo.rgb.rows)});
  std::stable_sort(markings.footprints.begin(), markings.footprints.end(), [&](const Footprint& a, const Footprint& b) {
    return length(centroid(a.rings.front()) - feet) < length(centroid(b.rings.front()) - feet);
  });
  return markings;
}

std::vector<ImageRing> in_photo(const Ground& ground, const std::vector<GroundRing>& rings) {
  std::vector<ImageRing> seen;
  for (const GroundRing& ring : rings) seen.push_back(ground.image_from_ground(ring));
  return seen;
}

}  // namespace lotwear
