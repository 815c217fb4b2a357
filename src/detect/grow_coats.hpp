#pragma once
// What the network missed of a marking that it has in part: an arrow's head, the half that it takes for a board.

#include "detect/detect.hpp"

namespace lotwear {

/// Pieces of the footprint are grown over the cells that join on, have the piece's own colour and stand out from the
/// pavement beside it as it does. A piece that would grow to more than about twice its size is left as it is: the
/// colour is then the pavement's too, or a thing's.
void grow_coats(PaintMap& map);

}  // namespace lotwear
