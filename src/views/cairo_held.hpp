#pragma once
// Cairo's and Pango's things, given back when they go out of scope.

#include <cairo.h>
#include <pango/pangocairo.h>

#include <memory>

namespace lotwear {

struct CloseDrawing {
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
  void operator()(cairo_t* c) const { cairo_destroy(c); }
  void operator()(cairo_font_options_t* o) const { cairo_font_options_destroy(o); }
  void operator()(PangoLayout* l) const { g_object_unref(l); }
  void operator()(PangoFontDescription* d) const { pango_font_description_free(d); }
};
template <class T>
using Held = std::unique_ptr<T, CloseDrawing>;

}  // namespace lotwear
