#include "marking/field.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/free_outline.hpp"
#include "marking/shape_edges.hpp"

namespace lotwear {

namespace {

constexpr double kLongestForWidth = 1.7;  // a field is about square, a stop line is not
constexpr double kLeastFilled = 0.85;     // of its hull: chips are filled in by the finder
constexpr double kPatchPixels = 0.9e6;
constexpr double kLeastSymbolAgreement = 0.42;  // chips of bare pavement in the field cost much of it

constexpr double kPlainSymbolAgreement = 0.6;  // well seen: no coarser look is needed

constexpr double kLeastStroke = 0.004;  // of the field: a symbol's head is a hundredth of it and more

using Colour3 = cv::Vec3d;

Colour3 mean_of(const std::vector<Colour3>& colours, std::size_t from, std::size_t to) {
  Colour3 sum(0, 0, 0);
  for (std::size_t i = from; i < to; ++i)
    sum += colours[i];
  return sum * (1.0 / static_cast<double>(std::max<std::size_t>(1, to - from)));
}

struct TwoColours {
  Colour3 ground_colour, symbol;
};

/// The field's own colour (blue in most lots) and the whitest that lies on it; nothing when the block is of one colour.
std::optional<TwoColours> colours_of(const Piece& piece, const PaintMap& paint) {
  cv::Mat inner;
  cv::erode(piece.mask, inner, cv::getStructuringElement(cv::MORPH_RECT, {5, 5}), {-1, -1}, 1, cv::BORDER_CONSTANT, 0);
  std::vector<Colour3> colours;
  for (int r = 0; r < inner.rows; ++r) {
    for (int c = 0; c < inner.cols; ++c) {
      if (inner.at<uchar>(r, c) == 0) continue;
      const cv::Vec3b v = paint.picture.at<cv::Vec3b>(piece.box.y + r, piece.box.x + c);
      colours.emplace_back(v[0], v[1], v[2]);
    }
  }
  if (colours.size() < 200) return std::nullopt;
  const std::size_t n = colours.size();
  std::stable_sort(colours.begin(), colours.end(),
                   [](const Colour3& a, const Colour3& b) { return a[2] - a[0] > b[2] - b[0]; });
  const Colour3 field = mean_of(colours, n / 20, n * 2 / 5);
  const auto lowest = [](const Colour3& v) { return std::min({v[0], v[1], v[2]}); };
  std::stable_sort(colours.begin(), colours.end(),
                   [&](const Colour3& a, const Colour3& b) { return lowest(a) > lowest(b); });
  const Colour3 white = mean_of(colours, n / 200, n / 20);
  // under a blue sky white is bluish too: how blue each is for its brightness tells
  const auto blueness = [](const Colour3& v) { return (v[2] - v[0]) / std::max(1.0, v[0] + v[1] + v[2]); };
  const bool coloured = field[2] - field[0] > 25;
  if (!coloured || white[0] - field[0] < 35 || blueness(white) > 0.6 * blueness(field)) return std::nullopt;
  return TwoColours{field, white};
}

Patch patch_around(const GroundRing& block, const Photo& photo, const Ground& ground,
                   double margin, const PaintContrast& contrast) {
  double x0 = 1e12, y0 = 1e12, x1 = -1e12, y1 = -1e12;
  for (const GroundPoint& p : block)
    x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
  const PatchPlace place = patch_frame(ground, photo.rgb.size(), {(x0 + x1) / 2, (y0 + y1) / 2}, 0,
                                       (x1 - x0) / 2 + margin, (y1 - y0) / 2 + margin, kPatchPixels);
  return cut_patch(photo, ground, place, contrast);
}

/// What the piece is when it is a block: the corners of its hull, four where it is seen whole, a few more where the
/// photo cuts it.
struct Block {
  GroundRing corners;
  double filled = 0;  ///< share of the hull that is the piece
  double long_for_width = 1e9;
};

Block block_of(const Piece& piece, const PaintMap& paint, const Ground& ground) {
  constexpr std::size_t kMostCorners = 6;
  std::vector<cv::Point> cells, hull, corners;
  cv::findNonZero(piece.mask, cells);
  if (cells.size() < 200) return {};
  cv::convexHull(cells, hull);
  Block block;
  block.filled = static_cast<double>(cells.size()) / std::max(1.0, cv::contourArea(hull));
  const std::size_t wanted = piece.at_border ? kMostCorners : 4;
  for (double reach = 1; reach < 0.2 * piece.mask.cols && (corners.empty() || corners.size() > wanted); reach *= 1.15)
    cv::approxPolyDP(hull, corners, reach, true);
  if (corners.size() < 4 || corners.size() > wanted) return {};
  std::vector<cv::Point2f> points;
  for (const cv::Point& c : corners) {
    const GroundPoint g = ground.ground_from_image(
        {(piece.box.x + c.x + 0.5) * paint.photo_per_cell, (piece.box.y + c.y + 0.5) * paint.photo_per_cell});
    block.corners.push_back(g);
    points.emplace_back(static_cast<float>(g.x - piece.middle.x), static_cast<float>(g.y - piece.middle.y));
  }
  const cv::Size2f box = cv::minAreaRect(points).size;
  block.long_for_width = static_cast<double>(std::max(box.width, box.height)) /
                         std::max(1.0, static_cast<double>(std::min(box.width, box.height)));
  return block;
}

/// Chips of bare pavement are no strokes of a symbol: what is small for the field goes.
void drop_chips(cv::Mat& share, double least_pixels) {
  cv::Mat ids, stats, middles;
  const int count = cv::connectedComponentsWithStats(share > 0.5F, ids, stats, middles, 8, CV_32S);
  std::vector<bool> keep(static_cast<std::size_t>(count), false);
  for (int i = 1; i < count; ++i)
    keep[static_cast<std::size_t>(i)] = stats.at<int>(i, cv::CC_STAT_AREA) >= least_pixels;
  for (int r = 0; r < share.rows; ++r) {
    for (int c = 0; c < share.cols; ++c) {
      if (!keep[static_cast<std::size_t>(ids.at<int>(r, c))]) share.at<float>(r, c) = 0;
    }
  }
}

/// The value that best divides what lies inside in two (Otsu 1979).
double dividing_value(const cv::Mat& share, const cv::Mat& inside) {
  std::vector<uchar> values;
  for (int r = 0; r < share.rows; ++r) {
    for (int c = 0; c < share.cols; ++c) {
      if (inside.at<uchar>(r, c) != 0) values.push_back(cv::saturate_cast<uchar>(share.at<float>(r, c) * 255));
    }
  }
  if (values.empty()) return 0.65;
  cv::Mat binary;
  return cv::threshold(cv::Mat(values), binary, 0, 255, cv::THRESH_BINARY | cv::THRESH_OTSU) / 255;
}

/// Where bare pavement lies on the way from the field's colour (0) to the symbol's (1).
double place_between(const TwoColours& colours, const std::array<double, 3>& bare) {
  double along = 0, whole = 0;
  for (int i = 0; i < 3; ++i) {
    const double d = colours.symbol[i] - colours.ground_colour[i];
    along += d * (bare[static_cast<std::size_t>(i)] - colours.ground_colour[i]);
    whole += d * d;
  }
  return along / std::max(1.0, whole);
}

/// The symbol's share of every spot, seen in several ways, the plainest first. `paintness`: 0 field .. 1 symbol; bare pavement
/// lies at `bare` between them.
std::vector<cv::Mat> looks_at(const cv::Mat& paintness, const cv::Mat& inside, double bare, double pixels_a_cell) {
  constexpr double kFine = 0.4, kCoarse = 1.5, kCoarsest = 4.0;   // cells of blur
  constexpr double kAsBare = 0.16;
  const auto blurred = [&](const cv::Mat& map, double cells) {
    cv::Mat out;
    cv::GaussianBlur(map, out, {0, 0}, std::max(1.0, cells * pixels_a_cell));
    return out;
  };
  const auto cut_at = [&](const cv::Mat& map, double half) {
    cv::Mat share = cv::min(cv::max((map - half) / 0.3 + 0.5, 0.0), 1.0);
    share.setTo(0, inside == 0);
    return share;
  };
  std::vector<cv::Mat> looks = {cut_at(blurred(paintness, kFine), 0.65)};
  if (bare > 0.25 && bare < 0.8) {
    // chips lie half way between field and symbol: they say nothing, what is left around them does
    cv::Mat known, value;
    cv::Mat(cv::abs(paintness - bare) > kAsBare).convertTo(known, CV_32F, 1.0 / 255);
    value = paintness.mul(known);
    looks.push_back(cut_at(blurred(value, kCoarse) / cv::max(blurred(known, kCoarse), 0.02), 0.5));
  }
  // where paint and field are worn alike, speckles hide the strokes: a coarser look, cut where the field itself divides
  for (const double cells : {kCoarse, kCoarsest}) {
    const cv::Mat coarse = blurred(paintness, cells);
    looks.push_back(cut_at(coarse, dividing_value(coarse, inside)));
  }
  return looks;
}

/// Half in shade, white in the shade is as bright as the field in the sun: how blue a spot is for its brightness tells
/// them apart in both. Bare pavement is as grey as the symbol, but darker in the same light: the second look leaves it
/// out.
std::vector<cv::Mat> looks_through_shade(const PatchPlace& place, const cv::Mat& inside, const Photo& photo,
                                         const Ground& ground, double pixels_a_cell) {
  constexpr double kFine = 0.6, kWide = 8;  // cells of blur
  const auto blurred = [&](const cv::Mat& map, double cells) {
    cv::Mat out;
    cv::GaussianBlur(map, out, {0, 0}, std::max(1.0, cells * pixels_a_cell));
    return out;
  };
  const auto share_of = [&](const cv::Mat& map, const cv::Mat& among) {
    cv::Mat share = cv::min(cv::max((map - dividing_value(map, among)) / 0.2 + 0.5, 0.0), 1.0);
    share.setTo(0, among == 0);
    return share;
  };
  const auto stretched = [&](const cv::Mat& map) {
    double low = 0, high = 1;
    cv::minMaxLoc(map, &low, &high, nullptr, nullptr, inside);
    return cv::Mat((map - low) / std::max(1e-6, high - low));
  };
  const cv::Mat blue_over_red = cut_patch(photo, ground, place, {{0, 0, 255}, {255, 0, 0}}).paintness;  // -1..1 as 0..1
  const cv::Mat bright = cut_patch(photo, ground, place, {{255, 255, 255}, {0, 0, 0}}).paintness;
  const cv::Mat grey = share_of(stretched(blurred(1 - (blue_over_red - 0.5) / cv::max(bright, 0.05), kFine)), inside);
  cv::Mat field = 1 - grey;
  field.setTo(0, inside == 0);
  const cv::Mat light = blurred(bright.mul(field), kWide) / cv::max(blurred(field, kWide), 1e-3);
  cv::Mat among;
  cv::bitwise_and(grey > 0.5, inside, among);
  const cv::Mat beside_light =
      cv::min(blurred(bright, kFine) / cv::max(light, 0.02) / 3, 1.0);  // white is up to thrice as bright as blue
  return {grey, grey.mul(share_of(beside_light, among))};
}

std::optional<FittedShape> symbol_on(const PaintedField& field, const TwoColours& colours, const Piece& piece,
                                     const Photo& photo, const Ground& ground,
                                     const std::vector<Shape>& symbols) {
  PaintContrast contrast;
  for (int i = 0; i < 3; ++i) {
    contrast.paint[static_cast<std::size_t>(i)] = colours.symbol[i];
    contrast.pavement[static_cast<std::size_t>(i)] = colours.ground_colour[i];
  }
  Patch patch = patch_around(field.outline, photo, ground, 0, contrast);
  // white inside the field; bare pavement in its chips is darker and lies half way
  cv::Mat inside(patch.paintness.size(), CV_8U, cv::Scalar(0));
  std::vector<cv::Point> corners;
  for (const GroundPoint& g : field.outline) {
    const PatchPoint p = patch.frame.patch(g);
    corners.emplace_back(static_cast<int>(std::lround(p.x)), static_cast<int>(std::lround(p.y)));
  }
  cv::fillPoly(inside, std::vector<std::vector<cv::Point>>{corners}, cv::Scalar(255));
  const double pixels_a_cell = piece.cell_mm / patch.frame.mm_per_pixel;
  const int rim = std::max(1, static_cast<int>(std::lround(1.5 * pixels_a_cell)));
  cv::erode(inside, inside, cv::getStructuringElement(cv::MORPH_RECT, {2 * rim + 1, 2 * rim + 1}), {-1, -1}, 1,
            cv::BORDER_CONSTANT, 0);
  std::optional<FittedShape> symbol;
  cv::Mat best_look;
  std::vector<cv::Mat> looks =
      looks_at(patch.paintness, inside, place_between(colours, piece.contrast.pavement), pixels_a_cell);
  const std::size_t plain = looks.size();
  for (cv::Mat& look : looks_through_shade(patch.frame, inside, photo, ground, pixels_a_cell))
    looks.push_back(std::move(look));
  for (std::size_t i = 0; i < looks.size(); ++i) {
    cv::Mat& look = looks[i];
    drop_chips(look, kLeastStroke * cv::countNonZero(inside));
    patch.footprint = look;
    auto fitted = fit_shape(patch, symbols, piece.cell_mm);
    // grey spots are many: seen that way a symbol must be seen well
    if (fitted && i >= plain && fitted->agreement < kPlainSymbolAgreement) continue;
    if (fitted && (!symbol || fitted->agreement > symbol->agreement)) {
      symbol = std::move(fitted);
      best_look = look;
    }
    if (symbol && symbol->agreement > kPlainSymbolAgreement) break;
  }
  patch.footprint = best_look;
  if (!symbol || symbol->agreement < kLeastSymbolAgreement) return std::nullopt;
  refine_shape(*symbol, patch, symbols, piece.cell_mm);
  return symbol;
}

}  // namespace

std::optional<PaintedField> painted_field(const Piece& piece, const Photo& photo, const PaintMap& paint,
                                          const Ground& ground, const std::vector<Shape>& symbols) {
  const Block block = block_of(piece, paint, ground);
  if (block.filled < kLeastFilled || block.long_for_width > kLongestForWidth) return std::nullopt;
  const auto colours = colours_of(piece, paint);
  if (!colours) return std::nullopt;
  PaintedField field;
  const SettledRing settled =
      settle_ring(block.corners,
                  patch_around(block.corners, photo, ground, std::max(80.0, 4 * piece.cell_mm), piece.contrast),
                  piece.cell_mm, 2.5);
  field.outline = settled.ring;
  field.edge_error_mm = settled.edge_error_mm;
  field.symbol = symbol_on(field, *colours, piece, photo, ground, symbols);
  return field;
}

namespace {

/// The hull of the piece's blue cells, in its box; nothing where they are few or make no block.
std::optional<cv::Mat> blue_block(const Piece& piece, const PaintMap& paint) {
  constexpr double kBlue = 0.12, kLeastShare = 0.3,
                   kLeastOfHull = 0.55;  // a symbol and chips leave more than half of it blue
  cv::Mat blue(piece.mask.size(), CV_8U, cv::Scalar(0));
  for (int r = 0; r < blue.rows; ++r) {
    for (int c = 0; c < blue.cols; ++c) {
      const cv::Vec3b v = paint.picture.at<cv::Vec3b>(piece.box.y + r, piece.box.x + c);
      if (piece.mask.at<uchar>(r, c) != 0 && v[2] - v[0] > kBlue * (v[0] + v[1] + v[2])) blue.at<uchar>(r, c) = 255;
    }
  }
  cv::morphologyEx(blue, blue, cv::MORPH_OPEN, cv::Mat::ones(3, 3, CV_8U));
  std::vector<cv::Point> cells, hull;
  cv::findNonZero(blue, cells);
  if (static_cast<double>(cells.size()) < kLeastShare * piece.cells) return std::nullopt;
  cv::convexHull(cells, hull);
  cv::Mat block(blue.size(), CV_8U, cv::Scalar(0));
  cv::fillConvexPoly(block, hull, cv::Scalar(255));
  if (static_cast<double>(cells.size()) < kLeastOfHull * cv::countNonZero(block)) return std::nullopt;
  return block;
}

}  // namespace

std::vector<Piece> with_fields_apart(std::vector<Piece> pieces, const PaintMap& paint, const Ground& ground) {
  constexpr int kLeastField = 2000, kLeastBeside = 150;  // cells; fewer show no symbol, are no line
  constexpr int kRim = 2;                                // cells of paint in which the colours run into each other
  const std::size_t before = pieces.size();
  for (std::size_t i = 0; i < before; ++i) {
    if (pieces[i].cells < kLeastField) continue;
    const std::optional<cv::Mat> block = blue_block(pieces[i], paint);
    if (!block) continue;
    cv::Mat grown, beside, ids, stats, middles;
    cv::dilate(*block, grown, cv::Mat::ones(2 * kRim + 1, 2 * kRim + 1, CV_8U));
    beside = pieces[i].mask & ~grown;
    cv::morphologyEx(beside, beside, cv::MORPH_OPEN, cv::Mat::ones(3, 3, CV_8U));
    const int count = cv::connectedComponentsWithStats(beside, ids, stats, middles, 8, CV_32S);
    if (count < 2) continue;
    Piece field = part_of(pieces[i], grown, paint, ground);
    // a blue line is no field
    const Block shape = block_of(field, paint, ground);
    if (shape.filled < kLeastFilled || shape.long_for_width > kLongestForWidth) continue;
    bool found = false;
    for (int k = 1; k < count; ++k) {
      if (stats.at<int>(k, cv::CC_STAT_AREA) < kLeastBeside) continue;
      pieces.push_back(part_of(pieces[i], ids == k, paint, ground));
      found = true;
    }
    if (found) pieces[i] = std::move(field);
  }
  return pieces;
}

}  // namespace lotwear
