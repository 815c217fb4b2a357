#include "marking/marking.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "marking/fit_bars.hpp"
#include "marking/footprints.hpp"
#include "marking/plane_evidence.hpp"
#include "marking/ragged.hpp"
#include "marking/settle_doubt.hpp"
#include "marking/unite.hpp"
#include "marking/word_fit.hpp"
#include "marking/words.hpp"

namespace lotwear {

namespace {

constexpr int kFewestCellsOfLetter = 50;
constexpr double kLeastArea = 0.025e6;           // square millimetres: a foot of thin line; nothing smaller is bid for
constexpr double kLeastOddArea = 0.12e6;         // what fits no shape must be large to be believed
constexpr double kLeastTriangle = 0.045e6;       // one alone: 12 by 18 in are the least of a yield line (MUTCD 2009 Fig. 3B-16), less a fifth each way
constexpr double kShortestStripe = 350;          // nominal millimetres
constexpr double kFewestPixelsAcross = 6;        // a stripe narrower than this in the photo cannot be measured, only guessed

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

/// The part of a ring up to `reach` along a direction (Sutherland and Hodgman 1974).
GroundRing cut_to(const GroundRing& ring, GroundPoint along, double reach) {
  GroundRing out;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    const double at_a = dot(along, a) - reach, at_b = dot(along, b) - reach;
    if (at_a <= 0) out.push_back(a);
    if ((at_a <= 0) != (at_b <= 0)) out.push_back(a + (b - a) * (at_a / (at_a - at_b)));
  }
  return out;
}

/// A line that runs away to where it is only a few pixels wide: the part that can be measured stays, the rest was not seen.
void keep_near_part(Footprint& footprint, const Ground& ground) {
  constexpr int kSteps = 60;
  if (footprint.rings.size() != 1 || footprint.length_mm < 8 * footprint.width_mm) return;
  GroundRing& ring = footprint.rings.front();
  std::vector<cv::Point2f> points;
  for (const GroundPoint& p : ring) points.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  const cv::RotatedRect box = cv::minAreaRect(points);
  const double angle = static_cast<double>(box.angle + (box.size.width < box.size.height ? 90 : 0)) * std::numbers::pi / 180;
  const GroundPoint middle{static_cast<double>(box.center.x), static_cast<double>(box.center.y)}, along{std::cos(angle), std::sin(angle)};
  const double half = static_cast<double>(std::max(box.size.width, box.size.height)) / 2;
  const auto wide_enough = [&](double at) {
    const GroundPoint side = GroundPoint{-along.y, along.x} * (footprint.width_mm / 2), here = middle + along * at;
    return length(ground.image_from_ground(here + side) - ground.image_from_ground(here - side)) >= kFewestPixelsAcross;
  };
  double low = -half, high = half;
  const double step = 2 * half / kSteps;
  while (low < high && !wide_enough(low)) low += step;
  while (high > low && !wide_enough(high)) high -= step;
  if (high - low > 2 * half - 1.5 * step || high - low < 4 * footprint.width_mm) return;
  GroundRing kept = cut_to(ring, along, dot(along, middle) + high);
  kept = cut_to(kept, along * -1.0, -(dot(along, middle) + low));
  if (kept.size() < 3) return;
  ring = std::move(kept);
  footprint.length_mm = high - low;
  footprint.cut_off = true;
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

/// A leaf or a splash is no stripe: too little of one is seen (two leaves in a row do not make the length between them), or
/// it is not long for its width, unless the photo cuts a wide one off.
bool long_enough(const Bar& bar) {
  const bool cut = bar.start_cut || bar.end_cut;
  return bar.filled * bar.length() >= kShortestStripe && bar.length() >= (cut && bar.width_mm > kShortestStripe / 2 ? 0.6 : 1.3) * bar.width_mm;
}

/// Many stripes that together are the piece: a ladder, hatching. Strokes of letters are stripes too, but short ones.
bool is_lattice(const PieceBars& found) {
  if (found.bars.size() < 4 || found.agreement < 0.5) return false;
  double all = 0, stripes = 0;
  for (const Bar& bar : found.bars) {
    const double size = bar.length() * bar.width_mm;
    all += size;
    if (long_enough(bar)) stripes += size;
  }
  return stripes > 0.5 * all;
}

bool surely_a_bar(const Piece& piece, const PieceBars& bars) { return piece.coat > 0.55 && piece.cells > 600 && bars.agreement > 0.85; }

/// Where hardly any coat is left, the letter's outline is the finder's guess of it.
void doubt_letter(Footprint& footprint) {
  constexpr double kStroke = 0.15;   // of a letter's lesser side, about: the guess runs strokes together
  footprint.edge_error = std::max(footprint.edge_error, Millimetres{kStroke / 2 * extent_of(footprint.rings).width_mm});
  footprint.doubts = {"so little of the word is left that the outlines of its letters are guessed"};
}

/// Everything fitted on one ground.
struct Fitted {
  std::vector<Footprint> footprints;
  FittedBars bars;
  std::vector<BarGroup> groups;
  std::vector<DrawnShape> drawn;
};

Fitted fit_all(const Photo& photo, const PaintMap& paint, const Ground& ground, const std::vector<Shape>& free_standing,
               const std::vector<Shape>& spelled, const cv::Mat& settled) {
  const Sight sight{photo, paint, settled, ground};
  // what colour adds makes pieces whole; what it takes away must not break worn ones
  PaintMap whole = paint;
  whole.footprint = cv::max(paint.footprint, sight.settled);
  PiecesRead read{with_fields_apart(find_pieces(whole, ground, photo.rgb.size()), paint, ground), {}};
  for (const Piece& piece : read.pieces) read.readings.push_back(read_piece(piece, sight, free_standing));
  unite_pieces(read, sight, free_standing);
  std::vector<Piece>& pieces = read.pieces;
  std::vector<Reading>& readings = read.readings;

  const std::vector<bool> letters = letters_among(read, sight);
  std::vector<Bar> bars;
  std::vector<Footprint> shaped, words, triangles;
  Fitted all;
  std::vector<bool> of_a_word(pieces.size(), false);
  const std::vector<LaidWord> laid = lay_words(read, letters, sight, spelled);
  for (const LaidWord& word : laid) {
    for (const std::size_t i : word.replaced) of_a_word[i] = true;
    if (!word.drawn.rings.empty()) words.push_back(word.drawn);
  }
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    if (of_a_word[i]) continue;
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
    const bool lattice = is_lattice(reading.bars);
    if (!lettered && !reading.as_shape && (reading.explained || striped || lattice)) {
      if (reading.bars.bars.size() == 1) reading.bars.bars.front().sure = surely_a_bar(piece, reading.bars);
      bars.insert(bars.end(), reading.bars.bars.begin(), reading.bars.bars.end());
      continue;
    }
    if (!lettered && piece.coat < kLeastCoat && !(reading.as_shape && reading.explained)) continue;
    if (piece.cells < (lettered ? kFewestCellsOfLetter : kFewestCellsAlone)) continue;
    Footprint footprint = shaped_footprint(piece, reading, sight, free_standing, lettered);
    if (footprint.rings.empty()) continue;
    if (keeps_to_drawing(piece, reading, lettered)) {
      const ShapePose& pose = reading.shape->pose;
      all.drawn.push_back({&free_standing[pose.shape], pose.values, reading.shape->rings, footprint.rings, {std::sin(pose.turn), -std::cos(pose.turn)}, pose.length_mm});
    }
    if (lettered) footprint.kind = Kind::legend;
    if (lettered && piece.coat < kLeastCoat) doubt_letter(footprint);
    if (footprint.kind == Kind::other && is_ragged(footprint.rings)) continue;
    (footprint.kind == Kind::legend ? words : footprint.kind == Kind::yield_line ? triangles : shaped).push_back(std::move(footprint));
  }
  bars = join_bars(std::move(bars));
  std::erase_if(bars, [](const Bar& bar) { return !long_enough(bar); });
  all.bars = fit_bars(bars, photo, ground);

  all.footprints = std::move(shaped);
  for (auto& f : gather(std::move(words), Kind::legend, 800)) all.footprints.push_back(std::move(f));
  label_legends(all.footprints, laid);
  for (auto& f : gather(std::move(triangles), Kind::yield_line, 800)) {
    // a leaf is a triangle too
    const bool leaf = f.rings.size() == 1 && !f.cut_off && area(f.rings.front()) < kLeastTriangle;
    if (!leaf) all.footprints.push_back(std::move(f));
  }
  all.groups = group_bars(all.bars.whole, ground.source == "scale-sheet");
  for (const BarGroup& group : all.groups) all.footprints.push_back(group_footprint(group, all.bars.whole));
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

/// What stands alone on the pavement, the plain bar, and last the symbols as a stencil laid face down paints them (it happens:
/// common practice, no source).
std::vector<Shape> free_standing_among(const std::vector<Shape>& shapes) {
  std::vector<Shape> found;
  std::copy_if(shapes.begin(), shapes.end(), std::back_inserter(found),
               [](const Shape& s) { return is_arrow(s.kind) || s.kind == Kind::accessible_symbol || s.kind == kPlainBar; });
  const std::size_t upright = found.size();
  for (std::size_t i = 0; i < upright; ++i) {
    if (found[i].kind != Kind::accessible_symbol) continue;
    Shape flipped = found[i];
    flipped.flipped = true;
    found.push_back(std::move(flipped));
  }
  return found;
}

constexpr double kFitAgainFrom = 0.04;   // of stretch; less than what shapes leave open anyhow
constexpr int kMostRounds = 2;   // a third moved nothing that a second had not, and costs as much

}  // namespace

Markings find_markings(const Photo& photo, const PaintMap& paint, const Ground& ground, const std::vector<Shape>& shapes) {
  const std::vector<Shape> free_standing = free_standing_among(shapes);
  std::vector<Shape> spelled;
  std::copy_if(shapes.begin(), shapes.end(), std::back_inserter(spelled), [](const Shape& s) { return !s.text.empty(); });
  const cv::Mat settled = settle_doubt(paint);
  Ground on = ground;
  Fitted all = fit_all(photo, paint, on, free_standing, spelled, settled);
  Markings markings{on, {}};
  for (int round = 1; ground.source != "scale-sheet"; ++round) {
    markings.ground = settle_ground(photo, paint, paint_seen(photo, paint, on, all.bars.as_mapped, all.groups, all.drawn), on);
    if (round == kMostRounds || bent(all.footprints, on, markings.ground) < kFitAgainFrom) break;
    on = markings.ground;
    all = fit_all(photo, paint, on, free_standing, spelled, settled);
  }
  markings.footprints = std::move(all.footprints);
  for (Footprint& f : markings.footprints) lay_on(f, on, markings.ground);
  for (Footprint& f : markings.footprints) {
    clip_to_photo(f, markings.ground, photo.rgb.size());
    keep_near_part(f, markings.ground);
  }
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
