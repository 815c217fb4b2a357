#include "marking/word_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "marking/footprints.hpp"
#include "marking/free_outline.hpp"
#include "marking/letter_rows.hpp"
#include "marking/shape_edges.hpp"
#include "marking/word_read.hpp"
#include "marking/words.hpp"

namespace lotwear {

namespace {

constexpr Fraction kReadSure{0.97};    // that it is a legend
constexpr double kRowPixels = 28;      // of a letter's height, where words are read
constexpr double kStrokePixels = 4.5;  // at least, where the letters' height allows
constexpr double kFitPixels = 40;      // and where they are fitted
constexpr double kPatchPixels = 0.9e6;
constexpr double kEndsFree = 1.3;  // of the height: a letter may be gone at either end
constexpr double kOneGone = 1.8;   // of a letter's side, between two of one word: one may be gone between them
constexpr double kAside = 0.2;
constexpr double kFewestCells = 9;             // of the finder's map; lower letters it only guesses at
constexpr double kHaze = 0.35, kPaint = 0.65;  // the finder's doubt around ends and in gaps is no paint

/// The map that the words are read in: what the finder and its doubts settled call painted once, other pieces left out.
cv::Mat letters_alone(const PiecesRead& read, const std::vector<bool>& lettered, const Sight& sight) {
  cv::Mat map = cv::max(sight.paint.footprint, sight.settled);
  for (std::size_t i = 0; i < read.pieces.size(); ++i) {
    if (!lettered[i]) map(read.pieces[i].box).setTo(0, read.pieces[i].mask);
  }
  return map;
}

cv::Mat without_haze(const cv::Mat& map) { return cv::min(cv::max((map - kHaze) / (kPaint - kHaze), 0.0), 1.0); }

/// The row's surroundings at a scale, the row along x.
struct RowPlace {
  PatchPlace place;
  double top = 0, height = 0;  ///< of the letters, pixels
};
RowPlace place_of(const LetterRow& row, const Span& along, double mm_per_pixel) {
  const double height = row.band.size(), before = kEndsFree * height, aside = kAside * height;
  RowPlace at;
  at.place.angle = std::atan2(row.along.y, row.along.x);
  at.place.mm_per_pixel = mm_per_pixel;
  at.place.width = static_cast<int>(std::lround((along.size() + 2 * before) / mm_per_pixel));
  at.place.height = static_cast<int>(std::lround((height + 2 * aside) / mm_per_pixel));
  at.place.origin = row.along * (along.low - before) + row.across * (row.band.low - aside);
  at.top = aside / mm_per_pixel, at.height = height / mm_per_pixel;
  return at;
}

/// Where a word that was read stands, as a pose of its shape.
ShapePose pose_of(const ReadWord& word, const Shape& shape, const RowPlace& at) {
  const std::vector<GroundRing> strokes = strokes_of(shape, word.values);
  Span x, y;
  for (const GroundRing& ring : strokes) {
    for (const GroundPoint& p : ring)
      x.take(p.x), y.take(p.y);
  }
  ShapePose pose;
  pose.values = word.values;
  pose.length_mm = at.height * at.place.mm_per_pixel;
  pose.turn = word.head_down ? std::numbers::pi : 0;
  const PatchPoint middle{(x.low + x.high) / 2 * at.height, (y.low + y.high) / 2 * at.height};
  pose.middle = word.head_down ? PatchPoint{word.right - middle.x, at.top + at.height - middle.y}
                               : PatchPoint{word.left + middle.x, at.top + middle.y};
  return pose;
}

/// What the map says of a word that was laid on it.
struct Borne {
  struct OfLetter {
    double seen = 1;     ///< how much of it the map has; 1 where most of it lies outside the photo
    double covered = 1;  ///< share of the paint between its sides that lies under its strokes
  };
  std::vector<OfLetter> letters;
  double covered = 0;  ///< of all paint there
};
Borne borne_out(const std::vector<std::vector<GroundRing>>& letters, const Patch& patch) {
  cv::Mat paint, under(patch.footprint.size(), CV_8U, cv::Scalar(0));
  patch.footprint.copyTo(paint, patch.inside);
  const auto share_under = [&](const cv::Mat& mask, const cv::Rect& box) {
    constexpr double kTraces = 0.02;  // of the box; less says nothing
    const double all = cv::sum(paint(box))[0];
    if (all < kTraces * box.area()) return 1.0;
    cv::Mat covered;
    paint(box).copyTo(covered, mask(box));
    return cv::sum(covered)[0] / all;
  };
  Borne borne;
  for (const std::vector<GroundRing>& letter : letters) {
    cv::Mat own(under.size(), CV_8U, cv::Scalar(0));
    for (const GroundRing& stroke : letter) {
      std::vector<cv::Point> ring;
      for (const GroundPoint& g : stroke) {
        const PatchPoint p = patch.frame.patch(g);
        ring.emplace_back(static_cast<int>(std::lround(p.x - 0.5)), static_cast<int>(std::lround(p.y - 0.5)));
      }
      cv::fillPoly(own, std::vector<std::vector<cv::Point>>{ring}, cv::Scalar(255));
    }
    under |= own;
    Borne::OfLetter& of = borne.letters.emplace_back();
    const double whole = cv::countNonZero(own), shown = cv::countNonZero(own & patch.inside);
    if (shown <= 0.5 * whole) continue;
    of.seen = cv::mean(paint, own & patch.inside)[0];
    of.covered = share_under(own, cv::boundingRect(own));
  }
  borne.covered = share_under(under, cv::Rect({0, 0}, under.size()));
  return borne;
}

/// Strokes in the drawing's order, letter by letter.
std::vector<std::vector<GroundRing>> by_letter(const std::vector<GroundRing>& strokes, const Shape& word) {
  std::vector<std::vector<GroundRing>> letters;
  auto at = strokes.begin();
  for (const Letter& letter : word.letters) {
    letters.emplace_back(at, at + static_cast<std::ptrdiff_t>(letter.size()));
    at += static_cast<std::ptrdiff_t>(letter.size());
  }
  return letters;
}

constexpr double kWhole = 0.76;  // of a letter on the map; then it keeps its own outline

/// A word that is read well ahead of all others needs less to bear it out; but one letter must be whole, and none that
/// has lost strokes may leave paint beside it that is none of its own. Chosen on 77 rendered legends: no wrong word was
/// left.
bool believed(double lead, double agreement, const Borne& borne) {
  constexpr double kWellAhead = 0.1, kAgrees = 0.5, kCovers = 0.75, kAgreesWell = 0.72, kCoversWell = 0.9, kOwn = 0.8;
  const bool strange = std::any_of(borne.letters.begin(), borne.letters.end(), [&](const Borne::OfLetter& letter) {
    return letter.seen < kWhole && letter.covered < kOwn;
  });
  const bool any_whole = std::any_of(borne.letters.begin(), borne.letters.end(),
                                     [](const Borne::OfLetter& letter) { return letter.seen >= kWhole; });
  if (strange || !any_whole) return false;
  return lead >= kWellAhead ? agreement > kAgrees && borne.covered > kCovers
                            : agreement > kAgreesWell && borne.covered > kCoversWell;
}

class Layer {
 public:
  Layer(const PiecesRead& read, const std::vector<bool>& lettered, const Sight& sight, const std::vector<Shape>& words)
      : read_(read), sight_(sight), words_(words), map_(letters_alone(read, lettered, sight)) {
    for (const Piece& piece : read.pieces)
      hulls_.push_back(hull_on_ground(piece, sight.paint, sight.ground));
  }
  const std::vector<GroundRing>& hulls() const { return hulls_; }

  std::vector<LaidWord> lay(const LetterRow& row) const {
    Span along;
    for (const std::size_t i : row.letters) {
      const Span span = span_along(hulls_[i], row.along);
      along.take(span.low), along.take(span.high);
    }
    const double height = row.band.size();
    if (height < kFewestCells * read_.pieces[row.letters.front()].cell_mm) return {};
    RowPlace coarse = place_of(row, along, height / kRowPixels);
    RowMap map = map_at(coarse);
    if (map.stroke < kStrokePixels) {  // tall letters have thin strokes
      coarse = place_of(row, along, height / (kRowPixels * std::min(kStrokePixels / std::max(1.0, map.stroke), 2.0)));
      map = map_at(coarse);
    }
    const std::vector<ReadWord> seen = read_row(map, words_);
    std::vector<LaidWord> laid;
    for (const ReadWord& word : seen) {
      if (auto one = lay(word, row, along, coarse)) laid.push_back(std::move(*one));
    }
    if (!seen.empty() && seen.front().head_down) std::reverse(laid.begin(), laid.end());
    return laid;
  }

 private:
  RowMap map_at(const RowPlace& at) const {
    RowMap map;
    map.inside = blank_patch(sight_.photo, sight_.ground, at.place).inside;
    map.paint = without_haze(map_in_patch(map_, sight_.paint.photo_per_cell, sight_.ground, at.place));
    map.top = at.top, map.height = at.height;
    map.stroke = stroke_width((map.paint > 0.5F) & map.inside);
    return map;
  }

  std::optional<LaidWord> lay(const ReadWord& word, const LetterRow& row, const Span& along,
                              const RowPlace& coarse) const {
    const Shape& shape = words_[word.word];
    const double mm = coarse.place.mm_per_pixel;
    const double begins = along.low - kEndsFree * row.band.size() + word.left * mm,
                 ends = begins + (word.right - word.left) * mm;
    const auto first = std::find_if(row.letters.begin(), row.letters.end(), [&](std::size_t i) {
      const Span span = span_along(hulls_[i], row.along);
      return std::min(span.high, ends) - std::max(span.low, begins) > 0.5 * span.size();
    });
    if (first == row.letters.end()) return std::nullopt;
    const Piece& like = read_.pieces[*first];

    Span around;
    around.take(begins - 0.3 * row.band.size()), around.take(ends + 0.3 * row.band.size());
    const GroundPoint centre =
        row.along * ((around.low + around.high) / 2) + row.across * ((row.band.low + row.band.high) / 2);
    const PatchPlace place = patch_frame(sight_.ground, sight_.photo.rgb.size(), centre, coarse.place.angle,
                                         around.size() / 2, (0.5 + kAside) * row.band.size(), kPatchPixels);
    Patch patch = cut_patch(sight_.photo, sight_.ground, place, like.contrast);
    patch.footprint = without_haze(map_in_patch(map_, sight_.paint.photo_per_cell, sight_.ground, place));
    ShapePose pose = pose_of(word, shape, coarse);
    pose.middle = place.patch(coarse.place.ground(pose.middle));
    const double side = std::max(place.width, place.height) * place.mm_per_pixel / row.band.size() * kFitPixels;
    FittedShape fitted = fit_from(patch, shape, pose, like.cell_mm, side);
    refine_shape(fitted, patch, {shape}, like.cell_mm);
    const auto letters = by_letter(fitted.rings, shape);
    const Borne borne = borne_out(letters, patch);
    if (!believed(word.lead, fitted.agreement, borne)) return std::nullopt;
    LaidWord laid;
    laid.text = shape.text;
    laid.middle = place.ground(fitted.pose.middle);
    const std::vector<bool> drawn = to_draw(letters, borne, row, laid.replaced);
    Footprint& f = laid.drawn;
    for (std::size_t i = 0; i < letters.size(); ++i) {
      if (drawn[i]) f.rings.insert(f.rings.end(), letters[i].begin(), letters[i].end());
    }
    f.kind = Kind::legend;
    f.kind_confidence = kReadSure;
    f.edge_error = {fitted.edge_error_mm};
    f.length_mm = fitted.pose.length_mm;
    f.width_mm = extent_of(f.rings).width_mm;
    for (const std::size_t i : laid.replaced)
      f.cut_off = f.cut_off || read_.pieces[i].at_border;
    return laid;
  }

  /// Letters that have lost strokes, with those that share a piece with them; and the pieces that these are parts of.
  std::vector<bool> to_draw(const std::vector<std::vector<GroundRing>>& letters, const Borne& borne,
                            const LetterRow& row, std::vector<std::size_t>& replaced) const {
    constexpr double kPart = 0.35;  // of a letter
    std::vector<Span> spans;
    std::vector<bool> drawn;
    for (std::size_t i = 0; i < letters.size(); ++i) {
      Span& span = spans.emplace_back();
      for (const GroundRing& stroke : letters[i]) {
        const Span own = span_along(stroke, row.along);
        span.take(own.low), span.take(own.high);
      }
      drawn.push_back(borne.letters[i].seen < kWhole);
    }
    const auto shares = [&](std::size_t piece, std::size_t letter) {
      const Span span = span_along(hulls_[piece], row.along);
      const double both = std::min(span.high, spans[letter].high) - std::max(span.low, spans[letter].low);
      return both > kPart * spans[letter].size() || both > 0.5 * span.size();
    };
    for (bool again = true; again;) {
      again = false;
      for (const std::size_t piece : row.letters) {
        if (std::find(replaced.begin(), replaced.end(), piece) != replaced.end()) continue;
        bool of_drawn = false;
        for (std::size_t i = 0; i < letters.size(); ++i)
          of_drawn = of_drawn || (drawn[i] && shares(piece, i));
        if (!of_drawn) continue;
        replaced.push_back(piece), again = true;
        for (std::size_t i = 0; i < letters.size(); ++i)
          drawn[i] = drawn[i] || shares(piece, i);
      }
    }
    return drawn;
  }

  const PiecesRead& read_;
  const Sight& sight_;
  const std::vector<Shape>& words_;
  cv::Mat map_;
  std::vector<GroundRing> hulls_;
};

}  // namespace

std::vector<LaidWord> lay_words(const PiecesRead& read, const std::vector<bool>& lettered, const Sight& sight,
                                const std::vector<Shape>& words) {
  if (words.empty() || std::none_of(lettered.begin(), lettered.end(), [](bool letter) { return letter; })) return {};
  const Layer layer(read, lettered, sight, words);
  std::vector<LaidWord> laid;
  for (const auto& set : near_letters(lettered, read, sight, kOneGone)) {
    for (const LetterRow& row : rows_among(set, layer.hulls())) {
      for (LaidWord& word : layer.lay(row))
        laid.push_back(std::move(word));
    }
  }
  return laid;
}

void label_legends(std::vector<Footprint>& footprints, const std::vector<LaidWord>& words) {
  for (const LaidWord& word : words) {
    Footprint* of = nullptr;
    double nearest = 1e12;
    for (Footprint& f : footprints) {
      if (f.kind != Kind::legend) continue;
      for (const GroundRing& ring : f.rings) {
        const double away = length(centroid(ring) - word.middle);
        if (away < nearest) nearest = away, of = &f;
      }
    }
    if (of == nullptr) continue;
    of->kind_confidence = std::max(of->kind_confidence, kReadSure);
    of->text += (of->text.empty() ? "" : " ") + word.text;
  }
}

}  // namespace lotwear
