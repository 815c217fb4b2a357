#pragma once
// What a piece of the finder's map may be: stripes, a drawn shape, a triangle of a yield line, a painted field, a letter.

#include <optional>
#include <vector>

#include "marking/bars.hpp"
#include "marking/field.hpp"
#include "marking/pieces.hpp"
#include "marking/shape_fit.hpp"

namespace lotwear {

/// What every piece is looked at with.
struct Sight {
  const Photo& photo;
  const PaintMap& paint;
  cv::Mat settled;        ///< the footprint map with its doubts settled by colour
  const Ground& ground;
};

enum class Map { as_found, settled, guess };
enum class Detail { map_alone, photo };

/// The piece seen from above on the map of choice, without what other pieces paint into its box.
Patch patch_around(const Piece& piece, const Sight& sight, Map map, Detail detail);

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

inline double vote(const Piece& piece, FinderKind kind) { return piece.votes[static_cast<std::size_t>(kind)]; }

/// The finder's word for an arrow or a symbol, 0..1. It gives shafts and strokes away to lines: half its word is plenty.
double said_to_be_shape(const Piece& piece);

/// A plain bar competes with the shapes on their own terms: an arrow whose head the photo cuts off must show more than a bar.
inline constexpr Kind kPlainBar = Kind::stop_line;
inline constexpr int kFewestCellsAlone = 120;   ///< smaller pieces count only as parts of a stripe: leaves and litter are as large
inline constexpr double kLongestStroke = 1300;  ///< of a symbol or a letter, millimetres
inline constexpr double kLeastCoat = 0.25;      ///< haze of the finder has no coat in it; a word worn below this is not read

/// `shapes`: the free-standing ones of the trade and the plain bar.
Reading read_piece(const Piece& piece, const Sight& sight, const std::vector<Shape>& shapes);

struct PiecesRead {
  std::vector<Piece> pieces;
  std::vector<Reading> readings;   ///< one a piece
};

}  // namespace lotwear
