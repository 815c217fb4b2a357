#pragma once
// A fitted shape moved to the edges that the photo shows, and the best of its rivals by them.

#include "marking/shape_fit.hpp"

namespace lotwear {

/// The fitted shape's edges moved to where the photo shows them.
void refine_shape(FittedShape& fitted, const Patch& patch, const std::vector<Shape>& shapes, double cell_mm);

}  // namespace lotwear
