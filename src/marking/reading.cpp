#include "marking/reading.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

constexpr double kShapePatchPixels = 0.7e6;

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

constexpr double kGoodFit = 0.72, kGoodShape = 0.66;
constexpr double kForEveryBar = 0.02;   // of agreement, for every bar but the first: more bars fit anything

constexpr double kForSquat = 0.1;
constexpr double kClean = 0.86, kCleanOfMany = 0.93;   // agreement of one bar that is surely one
constexpr int kManyCells = 4000;

std::vector<Shape> symbols_among(const std::vector<Shape>& shapes) {
  std::vector<Shape> symbols;
  std::copy_if(shapes.begin(), shapes.end(), std::back_inserter(symbols), [](const Shape& s) { return s.kind == Kind::accessible_symbol; });
  return symbols;
}

/// The shape was a bar all along.
void take_as_bar(Reading& reading, const Piece& piece) {
  const GroundRing& ring = reading.shape->rings.front();
  const double agreement = reading.shape->agreement;
  // many bars that together agree better are a ladder or hatching, not one broad bar with holes
  if (ring.size() == 4 && agreement > reading.bars.agreement - kForEveryBar) {
    GroundPoint a = (ring[0] + ring[1]) * 0.5, b = (ring[2] + ring[3]) * 0.5, c = (ring[1] + ring[2]) * 0.5, d = (ring[3] + ring[0]) * 0.5;
    if (length(b - a) < length(d - c)) std::swap(a, c), std::swap(b, d);
    Bar bar = reading.bars.bars.empty() ? Bar{} : reading.bars.bars.front();
    bar.start = a, bar.end = b;
    bar.width_mm = length(d - c);
    bar.filled = 1;
    bar.votes = piece.votes;
    bar.contrast = piece.contrast;
    bar.cell_mm = piece.cell_mm;
    reading.bars = {{bar}, agreement};
  }
  reading.shape.reset();
}

}  // namespace

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
  constexpr int kReach = 2;
  const cv::Rect near = cv::Rect(piece.box.x - kReach, piece.box.y - kReach, piece.box.width + 2 * kReach, piece.box.height + 2 * kReach) &
                        cv::Rect({0, 0}, paint.footprint.size());
  cv::Mat own(near.size(), CV_8U, cv::Scalar(0)), grown;
  piece.mask.copyTo(own(piece.box - near.tl()));
  cv::dilate(own, grown, cv::getStructuringElement(cv::MORPH_RECT, {2 * kReach + 1, 2 * kReach + 1}));
  const cv::Mat& shown = map == Map::settled ? settled : map == Map::guess ? paint.guess : paint.footprint;
  cv::Mat share(paint.footprint.size(), CV_32F, cv::Scalar(0));
  shown(near).copyTo(share(near), grown);
  patch.footprint = map_in_patch(share, paint.photo_per_cell, ground, place);
  // the finder's haze around ends and in gaps is doubt, not paint: shapes are fitted to what it is sure of
  patch.footprint = cv::min(cv::max((patch.footprint - 0.35) / 0.3, 0.0), 1.0);
  return patch;
}

double said_to_be_shape(const Piece& piece) {
  return std::min(1.0, 2 * (vote(piece, FinderKind::arrow) + vote(piece, FinderKind::accessible_symbol)));
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
  // a clean stripe needs no second opinion, but of many cells a broad arrow's head is one in eight; crumbs carry too little to
  // tell shapes apart
  const double clean = piece.cells > kManyCells ? kCleanOfMany : kClean;
  const bool stripe = reading.bars.bars.size() == 1 && reading.bars.agreement > clean;
  if (!stripe && piece.cells > 250) {
    // flipped symbols stand last and are worth their time only where the finder speaks of symbols
    const bool symbol = vote(piece, FinderKind::accessible_symbol) > 0.2;
    const auto last = symbol ? shapes.end() : std::find_if(shapes.begin(), shapes.end(), [](const Shape& s) { return s.flipped; });
    const std::vector<Shape> tried(shapes.begin(), last);
    const Patch settled = patch_around(piece, sight, Map::settled, Detail::map_alone);
    reading.shape = fit_shape(settled, tried, piece.cell_mm);
    if (!reading.shape || reading.shape->agreement < kGoodFit) {
      // much paint gone: the finder's own word may be the better one, where it is another
      const Patch found = patch_around(piece, sight, Map::as_found, Detail::map_alone);
      const bool another = cv::countNonZero(found.footprint != settled.footprint) > 0;
      auto as_found = another ? fit_shape(found, tried, piece.cell_mm) : std::nullopt;
      if (as_found && (!reading.shape || as_found->agreement > reading.shape->agreement)) reading.shape = std::move(as_found);
    }
  }
  const bool was_clean = reading.bars.bars.size() == 1 && reading.bars.agreement > kClean;
  if (reading.shape && reading.shape->kind == kPlainBar) {
    // a bar as good as that keeps its own sides and ends
    if (was_clean) reading.shape.reset();
    else take_as_bar(reading, piece);
  }
  double as_bars = reading.bars.agreement - kForEveryBar * static_cast<double>(reading.bars.bars.size() - 1);
  // about as wide as long: whatever fills a square well enough
  if (reading.bars.bars.size() == 1 && reading.bars.bars.front().length() < 1.3 * reading.bars.bars.front().width_mm) as_bars -= kForSquat;
  const double as_shape = reading.shape ? reading.shape->agreement + 0.1 * (reading.vote_shape - 0.5) : 0;
  reading.as_shape = as_shape > as_bars;
  reading.explained = reading.as_shape ? as_shape > kGoodShape : as_bars > kGoodFit;
  return reading;
}

}  // namespace lotwear
