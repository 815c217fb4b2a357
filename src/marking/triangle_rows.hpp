#pragma once
// Triangles of a yield line stand in an even row: what one of them shows badly (chipped, or cut by the photo's edge)
// its neighbours tell.

#include "marking/reading.hpp"

namespace lotwear {

/// Names in place the pieces that are triangles of a row.
void read_triangle_rows(PiecesRead& read, const Sight& sight);

}  // namespace lotwear
