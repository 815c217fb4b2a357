#include "marking/unite.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

namespace lotwear {

namespace {

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
void unite_by_guess(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  constexpr double kSaidToBeShape = 0.55, kFits = 0.62, kExplainedAlready = 0.7;
  PaintMap guessed = sight.paint;
  guessed.footprint = sight.paint.guess;
  for (Piece& whole : find_pieces(guessed, sight.ground, sight.photo.rgb.size())) {
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
    if (!shape || shape->kind == kPlainBar || shape->agreement < kFits) continue;
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

}  // namespace

void unite_pieces(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  read_triangle_rows(read, sight);
  unite_symbols(read, sight, shapes);
  unite_arrows(read, sight, shapes);
  unite_by_guess(read, sight, shapes);
}

std::vector<bool> letters_among(const PiecesRead& read, const Sight& sight) {
  constexpr double kSurelySymbol = 0.6;
  const std::size_t n = read.pieces.size();
  const auto reads = [&](std::size_t i) { return vote(read.pieces[i], FinderKind::legend); };
  const auto side = [&](std::size_t i) { return read.pieces[i].cell_mm * std::max(read.pieces[i].box.width, read.pieces[i].box.height); };
  // no letter has the accessible symbol's parts in their places, whatever the finder calls them
  const auto drawn_symbol = [&](std::size_t i) {
    const auto& shape = read.readings[i].shape;
    return read.readings[i].as_shape && shape && shape->kind == Kind::accessible_symbol && shape->agreement > kSurelySymbol;
  };
  const auto may_be_letter = [&](std::size_t i) {
    return !drawn_symbol(i) && read.pieces[i].coat >= kLeastCoat && !read.readings[i].field && read.readings[i].triangle.empty();
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

}  // namespace lotwear
