#include "marking/marking.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/bars.hpp"
#include "marking/field.hpp"
#include "marking/free_outline.hpp"
#include "marking/groups.hpp"
#include "marking/pieces.hpp"
#include "marking/plane_evidence.hpp"
#include "marking/settle_doubt.hpp"
#include "marking/shape_fit.hpp"

namespace lotwear {

namespace {

constexpr double kShapePatchPixels = 0.7e6;
constexpr int kFewestCellsAlone = 120;           // smaller pieces count only as parts of a stripe: leaves and litter are as large
constexpr int kFewestCellsOfLetter = 50;
constexpr double kLeastCoat = 0.25;              // haze of the finder has no coat in it; a word worn below this is not read
constexpr double kLeastArea = 0.025e6;           // square millimetres: a foot of thin line; nothing smaller is bid for
constexpr double kLeastOddArea = 0.12e6;         // what fits no shape must be large to be believed
constexpr double kShortestStripe = 350;          // nominal millimetres
constexpr double kLeastEdgeSeen = 0.12;          // share of the long edges with a clear step; below it nothing was painted there
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

/// What every piece is looked at with.
struct Sight {
  const Photo& photo;
  const PaintMap& paint;
  cv::Mat settled;        ///< the footprint map with its doubts settled by colour
  const Ground& ground;
};

enum class Map { as_found, settled, guess };
enum class Detail { map_alone, photo };

Patch patch_around(const Piece& piece, const Sight& sight, Map map, Detail detail) {
  const auto& [photo, paint, settled, ground] = sight;
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
  Patch patch = detail == Detail::photo ? cut_patch(photo, ground, place, piece.contrast) : blank_patch(photo, ground, place);
  // neighbours of other pieces in the same box are not this marking's paint
  cv::Mat own(paint.footprint.size(), CV_8U, cv::Scalar(0)), grown;
  piece.mask.copyTo(own(piece.box));
  cv::dilate(own, grown, cv::getStructuringElement(cv::MORPH_RECT, {5, 5}));
  cv::Mat share = (map == Map::settled ? settled : map == Map::guess ? paint.guess : paint.footprint).clone();
  share.setTo(0, grown == 0);
  patch.footprint = map_in_patch(share, paint.photo_per_cell, ground, place);
  // the finder's haze around ends and in gaps is doubt, not paint: shapes are fitted to what it is sure of
  patch.footprint = cv::min(cv::max((patch.footprint - 0.35) / 0.3, 0.0), 1.0);
  return patch;
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

constexpr double kNearlyTriangle = 0.66, kTriangleCovered = 0.75;

struct EnclosingTriangle {
  GroundRing corners;
  double filled = 0;   ///< share of it that the piece covers
};

EnclosingTriangle enclosing_triangle(const Piece& piece, const PaintMap& paint, const Ground& ground) {
  std::vector<cv::Point2f> points;
  for (int r = 0; r < piece.box.height; ++r) {
    for (int c = 0; c < piece.box.width; ++c) {
      if (piece.mask.at<uchar>(r, c) == 0) continue;
      const GroundPoint g = ground.ground_from_image({(piece.box.x + c + 0.5) * paint.photo_per_cell, (piece.box.y + r + 0.5) * paint.photo_per_cell});
      points.emplace_back(static_cast<float>(g.x - piece.middle.x), static_cast<float>(g.y - piece.middle.y));
    }
  }
  std::vector<cv::Point2f> hull, corners;
  cv::convexHull(points, hull);
  cv::minEnclosingTriangle(hull, corners);
  if (corners.size() != 3) return {};
  const double covered = cv::contourArea(hull), all = cv::contourArea(corners);
  EnclosingTriangle around;
  around.filled = covered / std::max(1.0, all);
  for (const auto& p : corners) around.corners.push_back({static_cast<double>(p.x) + piece.middle.x, static_cast<double>(p.y) + piece.middle.y});
  // a piece with bays (an arrow's head and shaft) is no triangle, whatever its hull fills
  double cells_mm2 = 0;
  for (const auto& p : {piece.middle}) {
    const ImagePoint at = ground.image_from_ground(p);
    const GroundPixel pixel = ground_pixel(ground, at);
    cells_mm2 = pixel.across_mm * pixel.along_mm * paint.photo_per_cell * paint.photo_per_cell * piece.cells;
  }
  if (cells_mm2 < kTriangleCovered * covered) around.filled = 0;
  return around;
}

/// What a piece may be: bars, a shape of the trade, or neither. The finder's kinds only tip the balance.
struct Reading {
  PieceBars bars;
  std::optional<FittedShape> shape;
  Map seen_in = Map::settled;        ///< the map that the shape was fitted to
  double vote_shape = 0;             ///< the finder's share for arrows and symbols
  bool explained = false;            ///< bars or shape fit well enough to stand alone
  bool as_shape = false;
  GroundRing triangle;               ///< three corners where the piece is one triangle, of a yield line
  GroundRing nearly_triangle;        ///< as much, were there more of its like in a row
  std::optional<PaintedField> field; ///< a block of colour, perhaps with a symbol on it
};

constexpr double kGoodFit = 0.72, kGoodShape = 0.66;

double vote(const Piece& piece, FinderKind kind) { return piece.votes[static_cast<std::size_t>(kind)]; }

/// The finder's word for an arrow or a symbol, 0..1. It gives shafts and strokes away to lines: half its word is plenty.
double said_to_be_shape(const Piece& piece) {
  return std::min(1.0, 2 * (vote(piece, FinderKind::arrow) + vote(piece, FinderKind::accessible_symbol)));
}

std::vector<Shape> symbols_among(const std::vector<Shape>& shapes) {
  std::vector<Shape> symbols;
  std::copy_if(shapes.begin(), shapes.end(), std::back_inserter(symbols), [](const Shape& s) { return s.kind == Kind::accessible_symbol; });
  return symbols;
}

Reading read_piece(const Piece& piece, const Sight& sight, const std::vector<Shape>& shapes) {
  Reading reading;
  reading.bars = bars_of(piece, sight.paint, sight.ground);
  // a triangle fills its smallest enclosing triangle; a bar fills little more than half of one
  if (piece.cells > kFewestCellsAlone && !piece.at_border) {
    const EnclosingTriangle around = enclosing_triangle(piece, sight.paint, sight.ground);
    // chipped corners cut it, where the finder says what it is
    const double enough = 0.8 - 0.12 * vote(piece, FinderKind::yield_line);
    if (around.filled > enough && around.filled > reading.bars.agreement && vote(piece, FinderKind::arrow) < 0.7) {
      reading.triangle = around.corners;
      reading.explained = true;
      return reading;
    }
    if (around.filled > kNearlyTriangle) reading.nearly_triangle = around.corners;
  }
  reading.field = painted_field(piece, sight.photo, sight.paint, sight.ground, symbols_among(shapes));
  if (reading.field) {
    reading.explained = reading.as_shape = true;
    return reading;
  }
  reading.vote_shape = said_to_be_shape(piece);
  // a clean stripe needs no second opinion; crumbs carry too little to tell shapes apart
  const bool stripe = reading.bars.bars.size() == 1 && reading.bars.agreement > 0.86;
  if (!stripe && piece.cells > 250) {
    reading.shape = fit_shape(patch_around(piece, sight, Map::settled, Detail::map_alone), shapes, piece.cell_mm);
    if (!reading.shape || reading.shape->agreement < kGoodFit) {
      // much paint gone: the finder's own word may be the better one
      auto as_found = fit_shape(patch_around(piece, sight, Map::as_found, Detail::map_alone), shapes, piece.cell_mm);
      if (as_found && (!reading.shape || as_found->agreement > reading.shape->agreement)) reading.shape = std::move(as_found);
    }
  }
  const double as_bars = reading.bars.agreement - 0.02 * static_cast<double>(reading.bars.bars.size() - 1);
  const double as_shape = reading.shape ? reading.shape->agreement + 0.1 * (reading.vote_shape - 0.5) : 0;
  reading.as_shape = as_shape > as_bars;
  reading.explained = reading.as_shape ? as_shape > kGoodShape : as_bars > kGoodFit;
  return reading;
}

double best_of(const Reading& r) { return std::max(r.bars.agreement, r.shape ? r.shape->agreement : 0.0); }

double gap_between(const Piece& a, const Piece& b, const PaintMap& paint, const Ground& ground) {
  // between the nearest mask cells, looked for on every third cell: enough to tell neighbours from strangers
  const auto points = [&](const Piece& piece) {
    std::vector<GroundPoint> found;
    for (int r = 0; r < piece.box.height; ++r) {
      for (int c = r % 3; c < piece.box.width; c += 3) {
        if (piece.mask.at<uchar>(r, c) == 0) continue;
        found.push_back(ground.ground_from_image({(piece.box.x + c + 0.5) * paint.photo_per_cell, (piece.box.y + r + 0.5) * paint.photo_per_cell}));
      }
    }
    if (found.size() > 300) {
      std::vector<GroundPoint> fewer;
      for (std::size_t i = 0; i < found.size(); i += found.size() / 300 + 1) fewer.push_back(found[i]);
      found = std::move(fewer);
    }
    return found;
  };
  double nearest = 1e12;
  const std::vector<GroundPoint> pa = points(a), pb = points(b);
  for (const GroundPoint& g : pa) {
    for (const GroundPoint& h : pb) nearest = std::min(nearest, length(g - h));
  }
  return nearest;
}

struct PiecesRead {
  std::vector<Piece> pieces;
  std::vector<Reading> readings;
};

/// Parts of one accessible symbol (head, body, wheel are separate strokes): all that the finder calls so and that lie close.
void unite_symbols(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  const PaintMap& paint = sight.paint;
  const Ground& ground = sight.ground;
  for (std::size_t i = 0; i < read.pieces.size(); ++i) {
    // its strokes read as letters as easily as as a symbol
    if (vote(read.pieces[i], FinderKind::accessible_symbol) + 0.7 * vote(read.pieces[i], FinderKind::legend) < 0.35) continue;
    if (read.pieces[i].coat < kLeastCoat || (read.readings[i].explained && read.readings[i].as_shape) || !read.readings[i].triangle.empty()) continue;
    Piece whole = read.pieces[i];
    std::vector<std::size_t> parts;
    for (std::size_t j = 0; j < read.pieces.size(); ++j) {
      if (j == i || read.pieces[j].coat < kLeastCoat || !same_paint(whole.contrast, read.pieces[j].contrast)) continue;
      const bool strong = vote(read.pieces[j], FinderKind::accessible_symbol) + 0.7 * vote(read.pieces[j], FinderKind::legend) > 0.3;
      if (!strong && read.pieces[j].cells > 0.3 * whole.cells) continue;
      if (gap_between(whole, read.pieces[j], paint, ground) > (strong ? 450 : 200)) continue;
      whole = united(whole, read.pieces[j], paint, ground);
      parts.push_back(j);
    }
    if (parts.empty()) continue;
    Reading together = read_piece(whole, sight, shapes);
    if (!together.shape || together.shape->kind != Kind::accessible_symbol || together.shape->agreement < 0.55) continue;
    together.as_shape = true;
    together.explained = together.explained || together.shape->agreement > 0.6;
    read.pieces[i] = whole;
    read.readings[i] = std::move(together);
    for (auto part = parts.rbegin(); part != parts.rend(); ++part) {
      read.pieces.erase(read.pieces.begin() + static_cast<std::ptrdiff_t>(*part));
      read.readings.erase(read.readings.begin() + static_cast<std::ptrdiff_t>(*part));
      if (*part < i) --i;
    }
  }
}

/// Pieces that only together make an arrow (a shadow or a worn-through elbow parts head and shaft) are united.
void unite_arrows(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  const PaintMap& paint = sight.paint;
  const Ground& ground = sight.ground;
  std::vector<Piece>& pieces = read.pieces;
  std::vector<Reading>& readings = read.readings;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    for (std::size_t j = i + 1; j < pieces.size(); ++j) {
      const auto whole_shape = [](const Reading& r) { return r.explained && r.as_shape; };
      const auto arrowish = [](const Piece& p) { return vote(p, FinderKind::arrow) > 0.25; };
      if (whole_shape(readings[i]) || whole_shape(readings[j]) || (readings[i].explained && readings[j].explained)) continue;
      if (!arrowish(pieces[i]) && !arrowish(pieces[j])) continue;
      if (std::min(pieces[i].cells, pieces[j].cells) < 60 || !same_paint(pieces[i].contrast, pieces[j].contrast)) continue;
      if (gap_between(pieces[i], pieces[j], paint, ground) > 500) continue;
      const Piece both = united(pieces[i], pieces[j], paint, ground);
      Reading together = read_piece(both, sight, shapes);
      // the whole must read better than its parts did
      const double parts = (best_of(readings[i]) * pieces[i].cells + best_of(readings[j]) * pieces[j].cells) / (pieces[i].cells + pieces[j].cells);
      if (!together.shape || !is_arrow(together.shape->kind) || together.shape->agreement < std::max(0.66, parts - 0.02)) continue;
      pieces[i] = both;
      together.explained = together.as_shape = true;
      readings[i] = std::move(together);
      pieces.erase(pieces.begin() + static_cast<std::ptrdiff_t>(j));
      readings.erase(readings.begin() + static_cast<std::ptrdiff_t>(j));
      j = i;
    }
  }
}

/// Worn shapes fall to pieces where little coat is left. The finder's guess holds them together: where a shape of the trade
/// fits the guess and the finder says arrow or symbol, it stands for its pieces.
void unite_by_guess(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes, cv::Size photo) {
  constexpr double kSaidToBeShape = 0.55, kFits = 0.62, kExplainedAlready = 0.7;
  PaintMap guessed = sight.paint;
  guessed.footprint = sight.paint.guess;
  for (Piece& whole : find_pieces(guessed, sight.ground, photo)) {
    const double said = said_to_be_shape(whole);
    if (said < kSaidToBeShape || whole.cells < 250) continue;
    std::vector<std::size_t> parts;
    double cells = 0, explained = 0;
    bool whole_shape = false;
    for (std::size_t i = 0; i < read.pieces.size(); ++i) {
      const Piece& part = read.pieces[i];
      const cv::Rect both = part.box & whole.box;
      if (both.empty()) continue;
      const int shared = cv::countNonZero(part.mask(both - part.box.tl()) & whole.mask(both - whole.box.tl()));
      if (shared < 0.5 * part.cells) continue;
      parts.push_back(i);
      cells += part.cells;
      if (read.readings[i].explained) explained += part.cells;
      whole_shape = whole_shape || (read.readings[i].explained && read.readings[i].as_shape);
    }
    if (parts.empty() || whole_shape || (parts.size() == 1 && explained > kExplainedAlready * cells && cells > 0.8 * whole.cells)) continue;
    if (!std::all_of(parts.begin(), parts.end(), [&](std::size_t i) { return same_paint(read.pieces[i].contrast, read.pieces[parts.front()].contrast); })) continue;
    auto shape = fit_shape(patch_around(whole, sight, Map::guess, Detail::map_alone), shapes, whole.cell_mm);
    if (!shape || shape->agreement < kFits) continue;
    Reading reading;
    reading.shape = std::move(shape);
    reading.vote_shape = said;
    reading.seen_in = Map::guess;
    reading.as_shape = reading.explained = true;
    whole.contrast = read.pieces[parts.front()].contrast;
    const std::size_t keep = parts.front();
    read.pieces[keep] = std::move(whole);
    read.readings[keep] = std::move(reading);
    for (std::size_t k = parts.size(); k-- > 1;) {
      read.pieces.erase(read.pieces.begin() + static_cast<std::ptrdiff_t>(parts[k]));
      read.readings.erase(read.readings.begin() + static_cast<std::ptrdiff_t>(parts[k]));
    }
  }
}

/// Three and more chipped triangles of one size and paint, each within reach of the next, are a yield line's.
void read_triangle_rows(PiecesRead& read, const Sight& sight) {
  const std::size_t n = read.pieces.size();
  const auto candidate = [&](std::size_t i) { return read.readings[i].nearly_triangle.size() == 3 || read.readings[i].triangle.size() == 3; };
  const auto corners = [&](std::size_t i) -> const GroundRing& {
    return read.readings[i].triangle.size() == 3 ? read.readings[i].triangle : read.readings[i].nearly_triangle;
  };
  std::vector<int> neighbours(n, 0);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) {
      if (i == j || !candidate(i) || !candidate(j) || !same_paint(read.pieces[i].contrast, read.pieces[j].contrast)) continue;
      const double a = area(corners(i)), b = area(corners(j));
      if (std::max(a, b) > 1.7 * std::min(a, b)) continue;
      if (length(centroid(corners(i)) - centroid(corners(j))) < 2.5 * std::sqrt(a)) ++neighbours[i];
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    bool beside_middle = neighbours[i] >= 2;
    for (std::size_t j = 0; j < n && !beside_middle && neighbours[i] == 1; ++j) {
      beside_middle = j != i && neighbours[j] >= 2 && gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) < 1.5 * std::sqrt(area(corners(i)));
    }
    if (!beside_middle || read.readings[i].triangle.size() == 3) continue;
    read.readings[i].triangle = read.readings[i].nearly_triangle;
    read.readings[i].explained = true;
  }
}

/// Letters: pieces that the finder reads so, and their neighbours of like size and paint that it half reads so (an I is a
/// stripe to it, an L two).
std::vector<bool> letters_among(const PiecesRead& read, const Sight& sight) {
  const std::size_t n = read.pieces.size();
  const auto reads = [&](std::size_t i) { return vote(read.pieces[i], FinderKind::legend); };
  const auto side = [&](std::size_t i) { return read.pieces[i].cell_mm * std::max(read.pieces[i].box.width, read.pieces[i].box.height); };
  const auto may_be_letter = [&](std::size_t i) {
    return read.pieces[i].coat >= kLeastCoat && !read.readings[i].field && read.readings[i].triangle.empty();
  };
  std::vector<bool> lettered(n, false);
  for (std::size_t i = 0; i < n; ++i) {
    const bool arrow = read.readings[i].as_shape && read.readings[i].explained;
    lettered[i] = reads(i) > (arrow ? 0.6 : 0.35) && may_be_letter(i);
  }
  for (bool again = true; again;) {
    again = false;
    for (std::size_t i = 0; i < n; ++i) {
      if (lettered[i] || reads(i) < 0.1 || !may_be_letter(i)) continue;
      for (std::size_t j = 0; j < n; ++j) {
        if (!lettered[j] || side(i) > 2 * side(j) || !same_paint(read.pieces[i].contrast, read.pieces[j].contrast)) continue;
        if (gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) > side(j)) continue;
        lettered[i] = again = true;
        break;
      }
    }
  }
  return lettered;
}

/// The outline is the drawing's; otherwise the piece keeps its own.
bool keeps_to_drawing(const Reading& reading, bool letter) {
  return !letter && reading.shape && (reading.explained || (reading.vote_shape > 0.6 && reading.shape->agreement > 0.55));
}

Footprint shaped_footprint(const Piece& piece, Reading& reading, const Sight& sight, const std::vector<Shape>& shapes, bool letter) {
  const Patch patch = patch_around(piece, sight, reading.seen_in, Detail::photo);
  Footprint footprint;
  footprint.cut_off = piece.at_border;
  if (keeps_to_drawing(reading, letter)) {
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
    const FreeOutline outline = free_outline(patch, piece.cell_mm);
    footprint.kind = loose_kind(piece.likely());
    footprint.kind_confidence = {0.7 * vote(piece, piece.likely())};
    footprint.rings = outline.rings;
    footprint.edge_error = {outline.edge_error_mm};
  }
  const Extent extent = extent_of(footprint.rings);
  if (footprint.length_mm == 0) footprint.length_mm = extent.length_mm;
  footprint.width_mm = extent.width_mm;
  return footprint;
}

/// The symbol, then the whole field below it (`measure` leaves out what lies upon it).
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
    }
    const Extent extent = extent_of(whole.rings);
    whole.length_mm = extent.length_mm;
    whole.width_mm = extent.width_mm;
    gathered.push_back(std::move(whole));
  }
  return gathered;
}

/// Mean factor of lengths from one ground to another about a ring, as areas have it.
double length_factor(const std::vector<GroundRing>& before, const std::vector<GroundRing>& after) {
  double a = 0, b = 0;
  for (const GroundRing& ring : before) a += area(ring);
  for (const GroundRing& ring : after) b += area(ring);
  return a > 0 ? std::sqrt(b / a) : 1;
}

/// What a photo shows stays where it is; the ground under it is another.
void lay_on(Footprint& footprint, const Ground& before, const Ground& after) {
  std::vector<GroundRing> rings;
  for (const GroundRing& ring : footprint.rings) rings.push_back(after.ground_from_image(before.image_from_ground(ring)));
  const double factor = length_factor(footprint.rings, rings);
  footprint.rings = std::move(rings);
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

double painted_area(const Footprint& footprint) {
  double sum = 0;
  for (const GroundRing& ring : footprint.rings) sum += area(ring);
  return sum;
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

/// Everything fitted on one ground.
struct Fitted {
  std::vector<Footprint> footprints;
  std::vector<FittedBar> bars;
  std::vector<BarGroup> groups;
  std::vector<DrawnShape> drawn;
};

Fitted fit_all(const Photo& photo, const PaintMap& paint, const Ground& ground, const std::vector<Shape>& free_standing, const cv::Mat& settled) {
  const Sight sight{photo, paint, settled, ground};
  // what colour adds makes pieces whole; what it takes away must not break worn ones
  PaintMap whole = paint;
  whole.footprint = cv::max(paint.footprint, sight.settled);
  PiecesRead read{find_pieces(whole, ground, photo.rgb.size()), {}};
  for (const Piece& piece : read.pieces) read.readings.push_back(read_piece(piece, sight, free_standing));
  read_triangle_rows(read, sight);
  unite_symbols(read, sight, free_standing);
  unite_arrows(read, sight, free_standing);
  unite_by_guess(read, sight, free_standing, photo.rgb.size());
  std::vector<Piece>& pieces = read.pieces;
  std::vector<Reading>& readings = read.readings;

  const std::vector<bool> letters = letters_among(read, sight);
  std::vector<Bar> bars;
  std::vector<Footprint> shaped, words, triangles;
  Fitted all;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    const Piece& piece = pieces[i];
    Reading& reading = readings[i];
    const FinderKind likely = piece.likely();
    const bool striped = likely == FinderKind::line || likely == FinderKind::stop_line || likely == FinderKind::crosswalk || likely == FinderKind::hatching;
    if (reading.triangle.size() == 3) {
      triangles.push_back(triangle_footprint(piece, reading, sight));
      continue;
    }
    if (reading.field) {
      for (Footprint& f : field_footprints(piece, *reading.field)) shaped.push_back(std::move(f));
      continue;
    }
    const bool lettered = letters[i];
    const bool lattice = reading.bars.bars.size() >= 4 && reading.bars.agreement > 0.5;
    if (!lettered && !reading.as_shape && (reading.explained || striped || lattice)) {
      bars.insert(bars.end(), reading.bars.bars.begin(), reading.bars.bars.end());
      continue;
    }
    if (piece.coat < kLeastCoat && !(reading.as_shape && reading.explained)) continue;
    if (piece.cells < (lettered ? kFewestCellsOfLetter : kFewestCellsAlone)) continue;
    Footprint footprint = shaped_footprint(piece, reading, sight, free_standing, lettered);
    if (footprint.rings.empty()) continue;
    if (keeps_to_drawing(reading, lettered)) {
      const ShapePose& pose = reading.shape->pose;
      all.drawn.push_back({&free_standing[pose.shape], pose.values, reading.shape->rings, footprint.rings, {std::sin(pose.turn), -std::cos(pose.turn)}, pose.length_mm});
    }
    if (lettered) footprint.kind = Kind::legend;
    (footprint.kind == Kind::legend ? words : footprint.kind == Kind::yield_line ? triangles : shaped).push_back(std::move(footprint));
  }
  bars = join_bars(std::move(bars));
    for (const Bar& bar : bars) {
    // a leaf or a splash is no stripe: too short to be one, or not long for its width
    if (bar.length() < kShortestStripe || bar.length() < 1.3 * bar.width_mm) continue;
    FittedBar found = refine_bar(bar, photo, ground);
    if (found.support >= kLeastEdgeSeen) all.bars.push_back(std::move(found));
  }

  all.footprints = std::move(shaped);
  for (auto& f : gather(std::move(words), Kind::legend, 800)) all.footprints.push_back(std::move(f));
  for (auto& f : gather(std::move(triangles), Kind::yield_line, 800)) all.footprints.push_back(std::move(f));
  all.groups = group_bars(all.bars, ground.source == "scale-sheet");
  for (const BarGroup& group : all.groups) all.footprints.push_back(group_footprint(group, all.bars));
  return all;
}

/// How much a second ground turns or stretches what lies on the first, lengths at right angles compared, at the middle of
/// each footprint; a change of scale alone is none.
double bent(const std::vector<Footprint>& footprints, const Ground& before, const Ground& after) {
  double most = 0;
  for (const Footprint& f : footprints) {
    const GroundPoint at = centroid(f.rings.front());
    const double reach = std::max(20.0, f.width_mm / 2);
    const auto laid = [&](GroundPoint by) {
      return after.ground_from_image(before.image_from_ground(at + by)) - after.ground_from_image(before.image_from_ground(at - by));
    };
    const GroundPoint u = laid({reach, 0}), v = laid({0, reach});
    // singular values of the 2 x 2 matrix (u v)
    const double sum = std::hypot(u.x + v.y, u.y - v.x), difference = std::hypot(u.x - v.y, u.y + v.x);
    most = std::max(most, (sum + difference) / std::max(1e-9, std::abs(sum - difference)) - 1);
  }
  return most;
}

constexpr double kFitAgainFrom = 0.04;   // of stretch; less than what shapes leave open anyhow
constexpr int kMostRounds = 2;   // a third moved nothing that a second had not, and costs as much

}  // namespace

Markings find_markings(const Photo& photo, const PaintMap& paint, const Ground& ground, const std::vector<Shape>& shapes) {
  std::vector<Shape> free_standing;
  std::copy_if(shapes.begin(), shapes.end(), std::back_inserter(free_standing),
               [](const Shape& s) { return is_arrow(s.kind) || s.kind == Kind::accessible_symbol; });
  const cv::Mat settled = settle_doubt(paint);
  Ground on = ground;
  Fitted all = fit_all(photo, paint, on, free_standing, settled);
  Markings markings{on, {}};
  for (int round = 1; ground.source != "scale-sheet"; ++round) {
    markings.ground = settle_ground(photo, paint, paint_seen(photo, paint, on, all.bars, all.groups, all.drawn), on);
    if (round == kMostRounds || bent(all.footprints, on, markings.ground) < kFitAgainFrom) break;
    on = markings.ground;
    all = fit_all(photo, paint, on, free_standing, settled);
  }
  markings.footprints = std::move(all.footprints);
  for (Footprint& f : markings.footprints) lay_on(f, on, markings.ground);
  for (Footprint& f : markings.footprints) clip_to_photo(f, markings.ground, photo.rgb.size());
  std::erase_if(markings.footprints, [&](const Footprint& f) {
    return f.rings.empty() || painted_area(f) < (f.kind == Kind::other ? kLeastOddArea : kLeastArea) || narrowest_photo_pixels(f, markings.ground) < kFewestPixelsAcross;
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
