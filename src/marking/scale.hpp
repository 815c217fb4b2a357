#pragma once
// Usual sizes of the trade by kind: what gives a photo without a scale sheet its millimetres.

#include "base/kinds.hpp"
#include "ground/seen_sizes.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

/// Widths of a kind's stripes, or lengths of a shape; empty `usual` where the trade has none.
SizeFamily family_of(Kind kind);

/// Width over length of a drawing within the ranges of its proportions.
struct UsualProportion {
  double width_over_length = 1;
  double spread = 0.25;  ///< one standard deviation, as a share
};
UsualProportion usual_proportion(const Shape& shape);

}  // namespace lotwear
