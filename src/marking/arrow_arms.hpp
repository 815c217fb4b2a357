#pragma once
// Arrows with two heads of which the link to one has worn away: what is left passes for an arrow with one head, and
// something beside it.

#include <vector>

#include "marking/reading.hpp"

namespace lotwear {

/// Share of the piece's cells that a drawing covers.
double share_covered(const Piece& piece, const std::vector<GroundRing>& rings, const Sight& sight);

/// Unites in place an arrow and the piece beside it that only as one make an arrow with two heads, which covers both.
void unite_arrow_arms(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes);

}  // namespace lotwear
