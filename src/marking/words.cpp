#include "marking/words.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "marking/together.hpp"

namespace lotwear {

namespace {

struct Span {
  double low = 1e12, high = -1e12;
  double size() const { return high - low; }
  void take(double v) { low = std::min(low, v), high = std::max(high, v); }
};

Span span_along(const GroundRing& ring, GroundPoint axis) {
  Span span;
  for (const GroundPoint& p : ring)
    span.take(dot(axis, p));
  return span;
}

/// A row of letters: which way it runs, and the band that all of them fill.
struct Row {
  GroundPoint along, across;
  Span band;
  std::vector<std::size_t> letters;
};

/// None where the letters are of unlike height: two rows, or strokes of one letter.
std::optional<Row> row_of(const std::vector<std::size_t>& letters, const std::vector<GroundRing>& hulls) {
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
  Row row{{std::cos(angle), std::sin(angle)}, {-std::sin(angle), std::cos(angle)}, {}, letters};
  for (const std::size_t i : letters) {
    const Span span = span_along(hulls[i], row.across);
    row.band.take(span.low), row.band.take(span.high);
  }
  const bool even = std::all_of(letters.begin(), letters.end(), [&](std::size_t i) {
    return span_along(hulls[i], row.across).size() > kAsHigh * row.band.size();
  });
  return even ? std::optional(row) : std::nullopt;
}

/// Inside the band, no wider than a letter, and no further from the next one than letters are.
bool stands_in(const Row& row, const GroundRing& hull, const std::vector<GroundRing>& hulls) {
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

/// Letters in sets whose members stand no further apart than the larger one's longer side.
std::vector<std::vector<std::size_t>> near_letters(const std::vector<bool>& lettered, const PiecesRead& read,
                                                   const Sight& sight) {
  const std::size_t n = lettered.size();
  const auto side = [&](std::size_t i) {
    return read.pieces[i].cell_mm * std::max(read.pieces[i].box.width, read.pieces[i].box.height);
  };
  Together together(n);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      if (!lettered[i] || !lettered[j] || !same_paint(read.pieces[i].contrast, read.pieces[j].contrast)) continue;
      if (gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) < std::max(side(i), side(j)))
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
      const std::optional<Row> row = row_of(set, hulls);
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
  constexpr double kSurelySymbol = 0.6, kSurelyArrow = 0.8;
  const std::size_t n = read.pieces.size();
  const auto reads = [&](std::size_t i) { return vote(read.pieces[i], FinderKind::legend); };
  const auto side = [&](std::size_t i) {
    return read.pieces[i].cell_mm * std::max(read.pieces[i].box.width, read.pieces[i].box.height);
  };
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
  const auto may_be_letter = [&](std::size_t i) {
    return !drawn(i) && read.pieces[i].coat >= kLeastCoat && !read.readings[i].field &&
           read.readings[i].triangle.empty();
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
  fill_rows(lettered, read, sight);
  return lettered;
}

}  // namespace lotwear
