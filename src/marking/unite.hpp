#pragma once
// Pieces that only together are a marking: strokes of a symbol, head and shaft of an arrow, a worn shape, a row of triangles,
// letters of a word.

#include <vector>

#include "marking/reading.hpp"

namespace lotwear {

/// Unites in place whatever belongs together as one drawn shape, and names triangles that stand in a row.
void unite_pieces(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes);

/// For each piece, whether it is a letter: pieces that the finder reads so, and their neighbours of like size and paint that
/// it half reads so (an I is a stripe to it, an L two).
std::vector<bool> letters_among(const PiecesRead& read, const Sight& sight);

}  // namespace lotwear
