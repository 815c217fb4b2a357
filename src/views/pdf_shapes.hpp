#pragma once
// Shapes of a small drawing on a Cairo page, with the patterns of the causes.

#include <cairo.h>

#include "views/drawing.hpp"

namespace lotwear {

void set_ink(cairo_t* to, Ink ink);
/// Everything but text.
void draw_shape(cairo_t* to, const Drawn& one);

}  // namespace lotwear
