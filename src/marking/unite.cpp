#include "marking/unite.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <set>

#include "marking/arrow_arms.hpp"
#include "marking/triangle_rows.hpp"

namespace lotwear {

namespace {

double best_of(const Reading& r) { return std::max(r.bars.agreement, r.shape ? r.shape->agreement : 0.0); }

/// A stroke alone may pass for an arrow, its head for a painted block: only a symbol is no part of another.
bool symbol_already(const Reading& r) { return r.explained && r.as_shape && r.shape && r.shape->kind == Kind::accessible_symbol && r.shape->agreement > 0.7; }

/// A stall line beside the symbol: no stroke of one is as long.
bool long_stripe(const Reading& r) {
  return r.explained && !r.as_shape && r.bars.bars.size() == 1 && r.bars.bars.front().length() > kLongestStroke;
}

/// The shapes that pieces are read as, and the symbols among them.
struct Trade {
  const std::vector<Shape>& shapes;
  std::vector<Shape> symbols;
};

/// Sizes on a ground without a sheet are off by a half now and then; symbols are 0.7 to 1.5 m high (common practice, no source).
bool as_large_as_a_symbol(const Piece& whole) {
  const double side = whole.cell_mm * std::max(whole.box.width, whole.box.height);
  return side > 450 && side < 3000;
}

struct UnitedSymbol {
  Piece whole;
  Reading reading;
  std::vector<std::size_t> parts;   // beside the first
};

/// Sets of pieces in which no symbol was found: neighbours lead to the same set from each of its members.
class NoSymbols {
 public:
  bool has(std::size_t first, const std::vector<std::size_t>& parts) const { return sets_.contains(set_of(first, parts)); }
  void add(std::size_t first, const std::vector<std::size_t>& parts) { sets_.insert(set_of(first, parts)); }
  void clear() { sets_.clear(); }

 private:
  static std::set<std::size_t> set_of(std::size_t first, const std::vector<std::size_t>& parts) {
    std::set<std::size_t> all(parts.begin(), parts.end());
    all.insert(first);
    return all;
  }
  std::set<std::set<std::size_t>> sets_;
};

std::optional<UnitedSymbol> symbol_of(std::size_t first, std::vector<std::size_t> parts, const PiecesRead& read, const Sight& sight, const Trade& trade,
                                      NoSymbols& none) {
  if (none.has(first, parts)) return std::nullopt;
  UnitedSymbol found{read.pieces[first], {}, std::move(parts)};
  for (const std::size_t j : found.parts) found.whole = united(found.whole, read.pieces[j], sight.paint, sight.ground);
  const auto shape = fit_shape(patch_around(found.whole, sight, Map::settled, Detail::map_alone), trade.symbols, found.whole.cell_mm);
  if (!shape || shape->agreement < 0.55) {
    none.add(first, found.parts);
    return std::nullopt;
  }
  found.reading = read_piece(found.whole, sight, trade.shapes);
  if (!found.reading.shape || found.reading.shape->kind != Kind::accessible_symbol) return std::nullopt;
  found.reading.as_shape = true;
  found.reading.explained = found.reading.explained || found.reading.shape->agreement > 0.6;
  return found;
}

/// All of the parts, or all but one: what stands close by in the same paint need not belong to it.
std::optional<UnitedSymbol> best_symbol(std::size_t first, const std::vector<std::size_t>& parts, const PiecesRead& read, const Sight& sight,
                                        const Trade& trade, NoSymbols& none) {
  constexpr std::size_t kMostTried = 8;
  auto all = symbol_of(first, parts, read, sight, trade, none);
  if (all || parts.size() < 2 || parts.size() > kMostTried) return all;
  std::optional<UnitedSymbol> best;
  for (const std::size_t without : parts) {
    std::vector<std::size_t> fewer;
    std::copy_if(parts.begin(), parts.end(), std::back_inserter(fewer), [without](std::size_t j) { return j != without; });
    auto found = symbol_of(first, fewer, read, sight, trade, none);
    if (found && (!best || found->reading.shape->agreement > best->reading.shape->agreement)) best = std::move(found);
  }
  return best;
}

/// Parts of one accessible symbol (head, body, wheel are separate strokes): all that the finder calls so and that lie close.
void unite_symbols(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  const PaintMap& paint = sight.paint;
  const Ground& ground = sight.ground;
  Trade trade{shapes, {}};
  NoSymbols none;
  std::copy_if(shapes.begin(), shapes.end(), std::back_inserter(trade.symbols), [](const Shape& s) { return s.kind == Kind::accessible_symbol; });
  const auto no_part = [&](std::size_t i) {
    return read.pieces[i].coat < kLeastCoat || symbol_already(read.readings[i]) || long_stripe(read.readings[i]);
  };
  constexpr double kUntold = 0.75;
  // its strokes read as letters as easily as as a symbol
  const auto said = [&](std::size_t i) { return vote(read.pieces[i], FinderKind::accessible_symbol) + 0.7 * vote(read.pieces[i], FinderKind::legend); };
  for (std::size_t i = 0; i < read.pieces.size(); ++i) {
    if (no_part(i) || read.pieces[i].cells < kFewestCellsAlone) continue;
    const bool told = said(i) >= 0.35;   // else its parts in their places must say it
    Piece whole = read.pieces[i];
    std::vector<std::size_t> parts;
    for (std::size_t j = 0; j < read.pieces.size(); ++j) {
      if (j == i || no_part(j) || !same_paint(whole.contrast, read.pieces[j].contrast)) continue;
      const bool strong = said(j) > 0.3;
      if (told && !strong && read.pieces[j].cells > 0.3 * whole.cells) continue;
      if (gap_between(whole, read.pieces[j], paint, ground) > (told && strong ? 450 : 200)) continue;
      whole = united(whole, read.pieces[j], paint, ground);
      parts.push_back(j);
    }
    if (parts.size() < (told ? 1U : 2U) || (!told && !as_large_as_a_symbol(whole))) continue;
    auto found = best_symbol(i, parts, read, sight, trade, none);
    if (!found || (!told && found->reading.shape->agreement < kUntold)) continue;
    none.clear();   // pieces change their numbers
    read.pieces[i] = std::move(found->whole);
    read.readings[i] = std::move(found->reading);
    for (auto part = found->parts.rbegin(); part != found->parts.rend(); ++part) {
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

/// A shadow that falls across a broad bar parts it, often into triangles: pieces of one paint that only together make a bar
/// are one. Their hull fills that bar; the hull of two of a yield line's triangles leaves a fifth of it open.
void unite_bars(PiecesRead& read, const Sight& sight) {
  constexpr double kBar = 0.7, kSeen = 0.5, kHull = 0.92, kWidestGapMm = 700;
  const auto no_bar = [&](std::size_t i) {
    const Reading& r = read.readings[i];
    return read.pieces[i].cells > 250 && !r.field && (!r.explained || r.triangle.size() == 3 || (!r.as_shape && r.bars.agreement < kBar));
  };
  for (std::size_t i = 0; i < read.pieces.size(); ++i) {
    for (std::size_t j = i + 1; j < read.pieces.size(); ++j) {
      if (!no_bar(i) || !no_bar(j) || !same_paint(read.pieces[i].contrast, read.pieces[j].contrast)) continue;
      if (gap_between(read.pieces[i], read.pieces[j], sight.paint, sight.ground) > kWidestGapMm) continue;
      Piece both = united(read.pieces[i], read.pieces[j], sight.paint, sight.ground);
      PieceBars bars = bars_of(both, sight.paint, sight.ground, 1);
      if (bars.bars.size() != 1 || bars.agreement < kSeen) continue;
      const double box = bars.bars.front().length() * bars.bars.front().width_mm;
      if (area(hull_on_ground(both, sight.paint, sight.ground)) < kHull * box) continue;
      read.pieces[i] = std::move(both);
      read.readings[i] = Reading{};
      read.readings[i].bars = std::move(bars);
      read.readings[i].explained = true;
      read.pieces.erase(read.pieces.begin() + static_cast<std::ptrdiff_t>(j));
      read.readings.erase(read.readings.begin() + static_cast<std::ptrdiff_t>(j));
      j = i;
    }
  }
}

/// Worn shapes fall to pieces where little coat is left. The finder's guess holds them together: where a shape of the trade
/// fits the guess and the finder says arrow or symbol, it stands for its pieces; where it fits well and covers every one of
/// them, also for pieces that pass for arrows and bars by themselves: a half of an arrow does.
void unite_by_guess(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  constexpr double kSaidToBeShape = 0.55, kFits = 0.62, kExplainedAlready = 0.7;
  constexpr double kFaintlySaid = 0.25, kFitsWell = 0.68, kCovered = 0.88, kOneIsAll = 0.85;
  constexpr int kCrumb = 60;
  PaintMap guessed = sight.paint;
  guessed.footprint = sight.paint.guess;
  for (Piece& whole : find_pieces(guessed, sight.ground, sight.photo.rgb.size())) {
    const double said = said_to_be_shape(whole);
    if (said < kFaintlySaid || whole.cells < 250) continue;
    std::vector<std::size_t> parts;
    double cells = 0, explained = 0, most = 0;
    bool whole_shape = false;
    for (std::size_t i = 0; i < read.pieces.size(); ++i) {
      const Piece& part = read.pieces[i];
      const cv::Rect both = part.box & whole.box;
      if (both.empty()) continue;
      const int shared = cv::countNonZero(part.mask(both - part.box.tl()) & whole.mask(both - whole.box.tl()));
      if (shared < 0.5 * part.cells) continue;
      parts.push_back(i);
      cells += part.cells;
      most = std::max(most, static_cast<double>(part.cells));
      if (read.readings[i].explained) explained += part.cells;
      whole_shape = whole_shape || (read.readings[i].explained && read.readings[i].as_shape);
    }
    const bool told = said >= kSaidToBeShape && !whole_shape;   // else a drawing that covers every part must say it
    if (parts.empty() || (!told && (parts.size() < 2 || most > kOneIsAll * cells)) || (parts.size() == 1 && explained > kExplainedAlready * cells && cells > 0.8 * whole.cells)) continue;
    if (!std::all_of(parts.begin(), parts.end(), [&](std::size_t i) { return same_paint(read.pieces[i].contrast, read.pieces[parts.front()].contrast); })) continue;
    auto shape = fit_shape(patch_around(whole, sight, Map::guess, Detail::map_alone), shapes, whole.cell_mm);
    if (!shape || shape->kind == kPlainBar || shape->agreement < (told ? kFits : kFitsWell)) continue;
    if (!told && !std::all_of(parts.begin(), parts.end(), [&](std::size_t i) {
          return read.pieces[i].cells < kCrumb || share_covered(read.pieces[i], shape->rings, sight) > kCovered;
        })) continue;
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

}  // namespace

void unite_pieces(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  unite_bars(read, sight);
  read_triangle_rows(read, sight);
  unite_symbols(read, sight, shapes);
  unite_arrows(read, sight, shapes);
  unite_arrow_arms(read, sight, shapes);
  unite_by_guess(read, sight, shapes);
}

}  // namespace lotwear
