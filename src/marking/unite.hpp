#pragma once
// Pieces that only together are a marking: strokes of a symbol, head and shaft of an arrow, a worn shape, a row of
// triangles.

#include <vector>

#include "marking/reading.hpp"

namespace lotwear {

/// Unites in place whatever belongs together as one drawn shape, and names triangles that stand in a row.
void unite_pieces(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes);

}  // namespace lotwear
