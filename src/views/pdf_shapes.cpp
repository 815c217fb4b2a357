#include "views/pdf_shapes.hpp"

#include <array>
#include <numbers>

namespace lotwear {

void set_ink(cairo_t* to, Ink ink) { cairo_set_source_rgb(to, ink.r / 255.0, ink.g / 255.0, ink.b / 255.0); }

namespace {

/// The pattern of a cause, as in the loss pictures, over what is clipped.
void draw_texture(cairo_t* to, Spot spot, double x, double y, double w, double h) {
  set_ink(to, texture_ink(spot));
  cairo_set_line_width(to, 1);
  const auto mark = [&](double left, double top, double width, double height) {
    cairo_rectangle(to, left, top, width, height);
    cairo_fill(to);
  };
  switch (texture_of(spot)) {
    case Texture::dots:
      for (double v = y; v < y + h; v += 6)
        for (double u = x; u < x + w; u += 6)
          mark(u, v, 2, 2), mark(u + 3, v + 3, 2, 2);
      break;
    case Texture::slanted_lines:
      cairo_set_line_width(to, 1.5);
      for (double u = x - h; u < x + w; u += 6) {
        cairo_move_to(to, u, y + h);
        cairo_line_to(to, u + h, y);
      }
      cairo_stroke(to);
      break;
    case Texture::level_lines:
      for (double v = y; v < y + h; v += 6)
        mark(x, v, w, 2);
      break;
    case Texture::upright_lines:
      for (double u = x; u < x + w; u += 5)
        mark(u, y, 1, h);
      break;
    case Texture::checks:
      for (double v = y; v < y + h; v += 8)
        for (double u = x; u < x + w; u += 8)
          mark(u, v, 4, 4), mark(u + 4, v + 4, 4, 4);
      break;
    case Texture::plain:
      break;
  }
}

void fill_shape(cairo_t* to, const Fill& fill) {
  if (const Tone* tone = std::get_if<Tone>(&fill)) {
    set_ink(to, ink_of(*tone, kLightPage));
    cairo_fill_preserve(to);
    return;
  }
  const Spot* spot = std::get_if<Spot>(&fill);
  if (spot == nullptr) return;
  set_ink(to, fill_of(*spot));
  cairo_fill_preserve(to);
  double left = 0, top = 0, right = 0, bottom = 0;
  cairo_path_extents(to, &left, &top, &right, &bottom);
  cairo_path_t* const path = cairo_copy_path(to);
  cairo_save(to);
  cairo_clip(to);
  draw_texture(to, *spot, left, top, right - left, bottom - top);
  cairo_restore(to);
  cairo_new_path(to);
  cairo_append_path(to, path);
  cairo_path_destroy(path);
}

void path_of(cairo_t* to, const Drawn& one) {
  constexpr double kTurn = 2 * std::numbers::pi;
  const std::vector<double>& at = one.at;
  switch (one.is) {
    case Drawn::Is::rect:
      cairo_rectangle(to, at[0], at[1], at[2], at[3]);
      break;
    case Drawn::Is::line:
      cairo_move_to(to, at[0], at[1]);
      cairo_line_to(to, at[2], at[3]);
      break;
    case Drawn::Is::circle:
      cairo_new_sub_path(to);
      cairo_arc(to, at[0], at[1], at[2], 0, kTurn);
      break;
    case Drawn::Is::half_disc:
      cairo_new_sub_path(to);
      cairo_arc(to, at[0], at[1], at[2], -kTurn / 4, kTurn / 4);
      cairo_close_path(to);
      break;
    case Drawn::Is::polygon:
      for (std::size_t i = 0; i + 1 < at.size(); i += 2)
        i == 0 ? cairo_move_to(to, at[i], at[i + 1]) : cairo_line_to(to, at[i], at[i + 1]);
      cairo_close_path(to);
      break;
    case Drawn::Is::text:
      break;
  }
}

}  // namespace

void draw_shape(cairo_t* to, const Drawn& one) {
  path_of(to, one);
  if (one.opacity < 1) cairo_push_group(to);
  if (one.opacity < 1) path_of(to, one);
  fill_shape(to, one.fill);
  if (const Tone* tone = std::get_if<Tone>(&one.stroke)) {
    set_ink(to, ink_of(*tone, kLightPage));
    cairo_set_line_width(to, one.stroke_width);
    constexpr std::array dashes = {3.0, 2.0};
    cairo_set_dash(to, dashes.data(), one.dashed ? 2 : 0, 0);
    cairo_stroke_preserve(to);
    cairo_set_dash(to, nullptr, 0, 0);
  }
  cairo_new_path(to);
  if (one.opacity < 1) {
    cairo_pop_group_to_source(to);
    cairo_paint_with_alpha(to, one.opacity);
    cairo_new_path(to);
  }
}

}  // namespace lotwear
