#include "views/lettering.hpp"

#include <cairo.h>

#include <cmath>
#include <cstring>
#include <memory>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

using Surface8 = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;
using Pen = std::unique_ptr<cairo_t, decltype(&cairo_destroy)>;

Surface8 surface(int width, int height) {
  return {cairo_image_surface_create(CAIRO_FORMAT_A8, width, height), &cairo_surface_destroy};
}

Pen pen_on(const Surface8& surface, double size_px) {
  Pen pen(cairo_create(surface.get()), &cairo_destroy);
  cairo_select_font_face(pen.get(), "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_BOLD);
  cairo_set_font_size(pen.get(), size_px);
  const std::unique_ptr<cairo_font_options_t, decltype(&cairo_font_options_destroy)> options(
      cairo_font_options_create(), &cairo_font_options_destroy);
  cairo_font_options_set_antialias(options.get(), CAIRO_ANTIALIAS_GRAY);
  cairo_font_options_set_hint_style(options.get(), CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options.get(), CAIRO_HINT_METRICS_OFF);
  cairo_set_font_options(pen.get(), options.get());
  return pen;
}

}  // namespace

cv::Mat lettering(const std::string& words, double size_px) {
  require(size_px > 0 && size_px < 200 && words.size() < 1000, "lettering is small");
  cairo_text_extents_t extents;
  cairo_font_extents_t line;
  const Surface8 probe = surface(1, 1);
  const Pen ruler = pen_on(probe, size_px);
  cairo_text_extents(ruler.get(), words.c_str(), &extents);
  cairo_font_extents(ruler.get(), &line);

  const int width = std::max(1, static_cast<int>(std::ceil(extents.x_advance)));
  const int height = std::max(1, static_cast<int>(std::ceil(line.ascent + line.descent)));
  const Surface8 sheet = surface(width, height);
  const Pen pen = pen_on(sheet, size_px);
  cairo_move_to(pen.get(), 0, line.ascent);
  cairo_show_text(pen.get(), words.c_str());
  cairo_surface_flush(sheet.get());
  require(cairo_surface_status(sheet.get()) == CAIRO_STATUS_SUCCESS, "Cairo drew the words");

  cv::Mat mask(height, width, CV_8U);
  const unsigned char* from = cairo_image_surface_get_data(sheet.get());
  const int stride = cairo_image_surface_get_stride(sheet.get());
  for (int y = 0; y < height; ++y)
    std::memcpy(mask.ptr(y), from + y * stride, static_cast<std::size_t>(width));
  return mask;
}

void lay_ink(cv::Mat& rgb, const cv::Mat& mask, cv::Point at, Ink ink) {
  const cv::Rect on = cv::Rect(at, mask.size()) & cv::Rect({0, 0}, rgb.size());
  const cv::Vec3i colour(ink.r, ink.g, ink.b);
  for (int y = on.y; y < on.y + on.height; ++y) {
    const auto* m = mask.ptr<unsigned char>(y - at.y);
    auto* p = rgb.ptr<cv::Vec3b>(y);
    for (int x = on.x; x < on.x + on.width; ++x) {
      const int cover = m[x - at.x];
      for (int c = 0; c < 3; ++c) {
        p[x][c] = static_cast<unsigned char>((p[x][c] * (255 - cover) + colour[c] * cover + 127) / 255);
      }
    }
  }
}

}  // namespace lotwear
