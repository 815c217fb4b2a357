#pragma once
// A block of colour with a symbol on it: white on blue for accessible stalls, as the trade often paints it. To the
// finder both are paint and so one block; the colours inside it tell them apart.

#include <optional>
#include <vector>

#include "marking/pieces.hpp"
#include "marking/shape_fit.hpp"

namespace lotwear {

struct PaintedField {
  GroundRing outline;
  double edge_error_mm = 0;
  std::optional<FittedShape> symbol;  ///< none where it cannot be made out
};

/// The piece as a field, when it is a block about as wide as long, of a paint with a colour of its own. `shapes`: the
/// symbols.
std::optional<PaintedField> painted_field(const Piece& piece, const Photo& photo, const PaintMap& paint,
                                          const Ground& ground, const std::vector<Shape>& symbols);

/// Where a field and the line beside it are one piece to the finder, the two are set apart: the field ends where its
/// colour does.
std::vector<Piece> with_fields_apart(std::vector<Piece> pieces, const PaintMap& paint, const Ground& ground);

}  // namespace lotwear
