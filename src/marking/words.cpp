#include "marking/words.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <optional>

#include "marking/letter_rows.hpp"
#include "marking/together.hpp"

namespace lotwear {

namespace {

constexpr double kSurelyArrow = 0.8;  // of agreement: no letter has so much of an arrow's outline

/// None where the letters are of unlike height: two rows, or strokes of one letter. Half of them may be such strokes,
/// and what the photo cuts counts for nothing.
std::optional<LetterRow> row_of(const std::vector<std::size_t>& letters, const std::vector<GroundRing>& hulls,
                                const PiecesRead& read) {
  constexpr double kAsHigh = 0.7;  // of the band: what little wear and a wrong plane take off a letter
  if (letters.size() < 2) return std::nullopt;
  std::vector<GroundPoint> middles;
  GroundPoint mean{0, 0};
  for (const std::size_t i : letters)
    middles.push_back(centroid(hulls[i])), mean = mean + middles.back();
  mean = mean * (1.0 / static_cast<double>(letters.size()));
  double xx = 0, xy = 0, yy = 0;
  for (const GroundPoint& m : middles) {
    const GroundPoint d = m - mean;
    xx += d.x * d.x, xy += d.x * d.y, yy += d.y * d.y;
  }
  const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
  LetterRow row{{std::cos(angle), std::sin(angle)}, {-std::sin(angle), std::cos(angle)}, {}, letters};
  for (const std::size_t i : letters) {
    const Span span = span_along(hulls[i], row.across);
    row.band.take(span.low), row.band.take(span.high);
  }
  std::size_t high = 0, whole = 0;
  for (const std::size_t i : letters) {
    if (span_along(hulls[i], row.across).size() > kAsHigh * row.band.size())
      ++high, ++whole;
    else if (!read.pieces[i].at_border)
      ++whole;
  }
  const bool even = high >= 2 && 2 * high >= whole;
  return even ? std::optional(row) : std::nullopt;
}

/// Inside the band, no wider than a letter, and no further from the next one than letters are.
bool stands_in(const LetterRow& row, const GroundRing& hull, const std::vector<GroundRing>& hulls) {
  constexpr double kSlack = 0.25, kWidest = 1.2, kApart = 0.7;  // of the letters' height
  const double height = row.band.size();
  const Span across = span_along(hull, row.across), along = span_along(hull, row.along);
  if (across.low < row.band.low - kSlack * height || across.high > row.band.high + kSlack * height ||
      along.size() > kWidest * height)
    return false;
  return std::any_of(row.letters.begin(), row.letters.end(), [&](std::size_t i) {
    const Span letter = span_along(hulls[i], row.along);
    return std::max(along.low - letter.high, letter.low - along.high) < kApart * height;
  });
}

double side_of(const Piece& piece) { return piece.cell_mm * std::max(piece.box.width, piece.box.height); }

}  // namespace

std::vector<std::vector<std::size_t>> near_letters(const std::vector<bool>& lettered, const PiecesRead& read,
                                                   const Sight& sight, double reach) {
  const std::size_t n = lettered.size();
  const auto side = [&](std::size_t i) { return side_of(read.pieces[i]); };
  Together together(n);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      if (!lettered[i] || !lettered[j] || !same_paint(read.pieces[i].contrast, read.pieces[j].contrast)) continue;
      if (gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) < reach * std::max(side(i), side(j)))
        together.join(i, j);
    }
  }
  std::vector<std::vector<std::size_t>> sets(n);
  for (std::size_t i = 0; i < n; ++i) {
    if (lettered[i]) sets[together.of(i)].push_back(i);
  }
  std::erase_if(sets, [](const auto& set) { return set.size() < 2; });
  return sets;
}

namespace {

/// Strokes side by side are hatching to the finder where a large word leaves the photo; but hatching is straight bars.
/// What it says so of and what then reads as no bars at all is a letter, if another like it stands beside it; so are
/// the strokes near them that are no longer.
void read_bent_hatching(std::vector<bool>& lettered, const PiecesRead& read, const Sight& sight) {
  constexpr double kSaidStrokes = 0.6, kNoArrow = 0.1, kNoLonger = 1.2, kBars = 0.8;
  constexpr int kFewestCells = 250;  // with fewer no shape is tried: nothing read says nothing
  const auto strokes = [&](std::size_t i) {
    const Piece& piece = read.pieces[i];
    const Reading& r = read.readings[i];
    const bool drawn = r.shape && (r.shape->kind == Kind::accessible_symbol || r.shape->agreement > kSurelyArrow);
    return vote(piece, FinderKind::hatching) + vote(piece, FinderKind::legend) > kSaidStrokes &&
           vote(piece, FinderKind::arrow) < kNoArrow && piece.coat >= kLeastCoat && !r.field && !drawn &&
           r.triangle.empty();
  };
  std::vector<bool> bent(lettered.size(), false);
  for (std::size_t i = 0; i < bent.size(); ++i) {
    const Reading& r = read.readings[i];
    bent[i] =
        strokes(i) && read.pieces[i].cells >= kFewestCells && r.bars.agreement < kBars && (r.as_shape || !r.explained);
  }
  for (const auto& set : near_letters(bent, read, sight)) {
    for (std::size_t i = 0; i < bent.size(); ++i) {
      lettered[i] = lettered[i] || std::any_of(set.begin(), set.end(), [&](std::size_t j) {
                      return i == j || (strokes(i) && same_paint(read.pieces[i].contrast, read.pieces[j].contrast) &&
                                        side_of(read.pieces[i]) < kNoLonger * side_of(read.pieces[j]) &&
                                        gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) <
                                            side_of(read.pieces[j]));
                    });
    }
  }
}

/// Coloured paint by its hue: what it leaves of the pavement's light, channel by channel, is the same in sun and shade.
bool same_hue(const PaintContrast& a, const PaintContrast& b) {
  constexpr double kColoured = 0.25, kAlike = 0.9;
  const auto hue = [](const PaintContrast& c) {
    std::array<double, 3> left{};
    double mean = 0;
    for (std::size_t i = 0; i < 3; ++i) {
      left[i] = std::log((c.paint[i] + 5) / (c.pavement[i] + 5));
      mean += left[i] / 3;
    }
    for (double& v : left)
      v -= mean;
    return left;
  };
  const std::array<double, 3> p = hue(a), q = hue(b);
  double pp = 0, qq = 0, pq = 0;
  for (std::size_t i = 0; i < 3; ++i)
    pp += p[i] * p[i], qq += q[i] * q[i], pq += p[i] * q[i];
  return std::min(pp, qq) > kColoured * kColoured && pq > kAlike * std::sqrt(pp * qq);
}

/// A word so worn that the finder takes it for lost paint from end to end has no letters left for it. What gives it
/// away: a row of pieces equally high, of one paint, half of which read as several strokes or an arrow each.
void read_smeared_rows(std::vector<bool>& lettered, const PiecesRead& read, const Sight& sight) {
  constexpr int kFewestCells = 200;
  constexpr double kLowest = 300, kHighest = 2600;  // millimetres; letters of the trade are 0.3 to 2.4 m high
  constexpr double kMostCoat = 0.5, kOneBar = 0.5, kGoodBar = 0.86, kOtherwiseSaid = 0.5;
  constexpr std::size_t kFewestLetters = 4;
  constexpr double kApart = 1.8;  // of a letter: one may be gone altogether
  const auto strokes = [&](std::size_t i) {
    return read.readings[i].as_shape || read.readings[i].bars.bars.size() > 2;
  };
  std::vector<GroundRing> hulls;
  std::vector<std::size_t> open;
  for (std::size_t i = 0; i < lettered.size(); ++i) {
    const Piece& piece = read.pieces[i];
    const Reading& r = read.readings[i];
    hulls.push_back(hull_on_ground(piece, sight.paint, sight.ground));
    const double said =
        std::max({vote(piece, FinderKind::line), vote(piece, FinderKind::crosswalk), vote(piece, FinderKind::arrow),
                  vote(piece, FinderKind::hatching), vote(piece, FinderKind::accessible_symbol)});
    if (piece.cells >= kFewestCells && piece.coat < kMostCoat && said < kOtherwiseSaid && !r.field &&
        r.triangle.empty() && (strokes(i) || r.bars.agreement < kGoodBar))
      open.push_back(i);
  }
  Together together(lettered.size());
  for (const std::size_t i : open) {
    for (const std::size_t j : open) {
      const PaintContrast &a = read.pieces[i].contrast, &b = read.pieces[j].contrast;
      if (j <= i || !(same_paint(a, b) || same_hue(a, b))) continue;
      const double side = std::max(std::sqrt(area(hulls[i])), std::sqrt(area(hulls[j])));
      if (gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) < kApart * side) together.join(i, j);
    }
  }
  for (const std::size_t first : open) {
    std::vector<std::size_t> set;
    std::copy_if(open.begin(), open.end(), std::back_inserter(set),
                 [&](std::size_t i) { return together.of(i) == first; });
    if (set.size() < kFewestLetters) continue;
    const std::optional<LetterRow> row = row_of(set, hulls, read);
    if (!row || row->band.size() < kLowest || row->band.size() > kHighest) continue;
    if (2 * static_cast<std::size_t>(std::count_if(set.begin(), set.end(), strokes)) < set.size()) continue;
    Piece all = read.pieces[set.front()];
    for (const std::size_t i : set)
      all = united(all, read.pieces[i], sight.paint, sight.ground);
    const PieceBars bars = bars_of(all, sight.paint, sight.ground);
    if (bars.bars.size() == 1 && bars.agreement > kOneBar) continue;
    for (const std::size_t i : set)
      lettered[i] = true;
  }
}

/// What stands in a row of letters is one of them. An arrow beside a word is as high as its letters only by chance:
/// there the finder's word counts.
void fill_rows(std::vector<bool>& lettered, const PiecesRead& read, const Sight& sight) {
  constexpr double kSaidArrow = 0.3;
  std::vector<GroundRing> hulls;
  for (const Piece& piece : read.pieces)
    hulls.push_back(hull_on_ground(piece, sight.paint, sight.ground));
  const auto may_join = [&](std::size_t i) {
    const Reading& r = read.readings[i];
    const bool symbol = r.as_shape && r.shape && r.shape->kind == Kind::accessible_symbol && r.explained;
    return !lettered[i] && !symbol && !r.field && read.pieces[i].coat >= kLeastCoat &&
           vote(read.pieces[i], FinderKind::arrow) < kSaidArrow;
  };
  for (bool again = true; again;) {
    again = false;
    for (const auto& set : near_letters(lettered, read, sight)) {
      const std::optional<LetterRow> row = row_of(set, hulls, read);
      if (!row) continue;
      for (std::size_t i = 0; i < hulls.size(); ++i) {
        if (!may_join(i) || !same_paint(read.pieces[i].contrast, read.pieces[set.front()].contrast)) continue;
        if (stands_in(*row, hulls[i], hulls)) lettered[i] = again = true;
      }
    }
  }
}

}  // namespace

std::vector<bool> letters_among(const PiecesRead& read, const Sight& sight) {
  constexpr double kSurelySymbol = 0.6, kSure = 0.6, kLeastOfSure = 0.15;
  const std::size_t n = read.pieces.size();
  const auto reads = [&](std::size_t i) { return vote(read.pieces[i], FinderKind::legend); };
  const auto side = [&](std::size_t i) { return side_of(read.pieces[i]); };
  // Of 195 rendered arrows one got so little of the finder's word for arrows beside its word for letters, of 26
  // words 17.
  const auto said_letter = [&](std::size_t i) {
    return reads(i) > 0.3 && vote(read.pieces[i], FinderKind::arrow) < 0.1 * reads(i);
  };
  // no letter has the accessible symbol's parts in their places, or an arrow's outline, if the finder grants that it
  // may be one
  const auto drawn = [&](std::size_t i) {
    const auto& shape = read.readings[i].shape;
    if (!read.readings[i].as_shape || !shape) return false;
    if (shape->kind == Kind::accessible_symbol) return shape->agreement > kSurelySymbol;
    return shape->agreement > kSurelyArrow && !said_letter(i);
  };
  // the stripe of a stall, cut off by the photo perhaps, beside a word
  const auto stripe = [&](std::size_t i) {
    const Reading& r = read.readings[i];
    if (r.as_shape || !r.explained || r.bars.bars.empty() || r.bars.bars.size() > 2) return false;
    const Bar& bar = r.bars.bars.front();
    const bool long_and_thin = bar.length() > kLongestStroke && bar.length() > 8 * bar.width_mm && reads(i) < 0.6;
    return long_and_thin || (r.bars.bars.size() == 1 &&
                             vote(read.pieces[i], FinderKind::line) + vote(read.pieces[i], FinderKind::hatching) > 0.5);
  };
  // where the finder is sure of a letter, less coat will do: it takes the gaps between worn strokes for lost paint
  const auto coat_enough = [&](std::size_t i) {
    return read.pieces[i].coat >= (reads(i) > kSure ? kLeastOfSure : kLeastCoat);
  };
  const auto may_be_letter = [&](std::size_t i) {
    return !drawn(i) && coat_enough(i) && !read.readings[i].field && read.readings[i].triangle.empty();
  };
  std::vector<bool> lettered(n, false);
  for (std::size_t i = 0; i < n; ++i) {
    const bool arrow = read.readings[i].as_shape && read.readings[i].explained && !said_letter(i);
    lettered[i] = reads(i) > (arrow ? 0.6 : 0.35) && may_be_letter(i) && !stripe(i);
  }
  for (bool again = true; again;) {
    again = false;
    for (std::size_t i = 0; i < n; ++i) {
      if (lettered[i] || reads(i) < 0.1 || !may_be_letter(i) || stripe(i)) continue;
      for (std::size_t j = 0; j < n; ++j) {
        if (!lettered[j] || side(i) > 2 * side(j) || !same_paint(read.pieces[i].contrast, read.pieces[j].contrast))
          continue;
        if (gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) > side(j)) continue;
        lettered[i] = again = true;
        break;
      }
    }
  }
  read_bent_hatching(lettered, read, sight);
  read_smeared_rows(lettered, read, sight);
  fill_rows(lettered, read, sight);
  return lettered;
}

}  // namespace lotwear
