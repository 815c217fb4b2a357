#include "views/sheet_drawing.hpp"

#include <cairo-pdf.h>
#include <cairo.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include <cmath>
#include <memory>
#include <opencv2/core.hpp>

#include "base/trouble.hpp"
#include "views/cairo_held.hpp"
#include "views/grey_png.hpp"

namespace lotwear {

namespace {

constexpr double kPointsPerMm = 72 / 25.4;
constexpr double kTextMm = 2.6;  // 7.4 points: read at arm's length, five lines fit between ruler and fiducials
constexpr double kNumberMm = 2.4;
constexpr double kRuleMm = 0.15;      // thin enough to read a tape against
constexpr double kBelowRulerMm = 11;  // where the text starts: under the inch numbers

void check(cairo_status_t status) {
  if (status != CAIRO_STATUS_SUCCESS) {
    throw Failure(fmt::format("the scale sheet cannot be drawn ({})", cairo_status_to_string(status)));
  }
}

/// `size` is the font's em, all in millimetres. `middle`: x is the text's middle, else its left edge; y is its top.
void write(cairo_t* page, const std::string& text, double x, double y, double size, bool middle, double width = 0) {
  const Held<PangoLayout> layout(pango_cairo_create_layout(page));
  const Held<cairo_font_options_t> options(cairo_font_options_create());
  cairo_font_options_set_hint_style(options.get(), CAIRO_HINT_STYLE_NONE);  // same line breaks on paper and screen
  cairo_font_options_set_hint_metrics(options.get(), CAIRO_HINT_METRICS_OFF);
  PangoContext* const context = pango_layout_get_context(layout.get());
  pango_cairo_context_set_font_options(context, options.get());
  pango_context_set_round_glyph_positions(context, FALSE);  // the unit is a millimetre here, not a pixel
  const Held<PangoFontDescription> font(pango_font_description_from_string("Sans"));
  pango_font_description_set_absolute_size(font.get(), size * PANGO_SCALE);
  pango_layout_set_font_description(layout.get(), font.get());
  if (width > 0) pango_layout_set_width(layout.get(), static_cast<int>(width * PANGO_SCALE));
  pango_layout_set_text(layout.get(), text.c_str(), -1);
  PangoRectangle box;
  pango_layout_get_extents(layout.get(), nullptr, &box);
  cairo_move_to(page, middle ? x - static_cast<double>(box.width) / PANGO_SCALE / 2 : x, y);
  pango_cairo_show_layout(page, layout.get());
}

void draw_fiducial(cairo_t* page, const Fiducial& fiducial) {
  const cv::Mat cells = fiducial_cells(fiducial.id);
  const double cell = fiducial.side_mm / kFiducialCells;
  cairo_rectangle(page, fiducial.x_mm, fiducial.y_mm, fiducial.side_mm, fiducial.side_mm);
  cairo_set_source_rgb(page, 0, 0, 0);
  cairo_fill(page);
  // White cells go over one black square: black cells drawn side by side would show hairlines between them.
  cairo_set_source_rgb(page, 1, 1, 1);
  for (int row = 0; row < cells.rows; ++row) {
    for (int column = 0; column < cells.cols; ++column) {
      if (cells.at<unsigned char>(row, column) == 0) continue;
      int last = column;  // one rectangle a run, for the same reason
      while (last + 1 < cells.cols && cells.at<unsigned char>(row, last + 1) != 0)
        ++last;
      cairo_rectangle(page, fiducial.x_mm + column * cell, fiducial.y_mm + row * cell, (last - column + 1) * cell,
                      cell);
      column = last;
    }
  }
  cairo_fill(page);
}

void draw_ruler(cairo_t* page, const SheetLayout& sheet) {
  const double x = sheet.ruler_x_mm, y = sheet.ruler_y_mm;
  cairo_set_source_rgb(page, 0, 0, 0);
  cairo_set_line_width(page, kRuleMm);
  const auto tick = [&](double at, double reach) {
    cairo_move_to(page, x + at, y);
    cairo_line_to(page, x + at, y + reach);
  };
  const int millimetres = static_cast<int>(sheet.ruler_mm);
  const int sixteenths = static_cast<int>(std::ceil(sheet.ruler_mm / 25.4)) * 16;
  for (int mm = 0; mm <= millimetres; ++mm)
    tick(mm, mm % 10 == 0 ? -5 : mm % 5 == 0 ? -3.5 : -2);
  for (int i = 0; i <= sixteenths; ++i) {
    tick(i * 25.4 / 16, i % 16 == 0 ? 5 : i % 8 == 0 ? 4 : i % 4 == 0 ? 3 : i % 2 == 0 ? 2 : 1.3);
  }
  cairo_move_to(page, x - kRuleMm / 2, y);
  cairo_line_to(page, x + std::max(sheet.ruler_mm, sixteenths * 25.4 / 16) + kRuleMm / 2, y);
  cairo_stroke(page);
  for (int mm = 0; mm <= millimetres; mm += 10)
    write(page, fmt::format("{}", mm), x + mm, y - 8.3, kNumberMm, true);
  for (int i = 0; i <= sixteenths; i += 16) {
    write(page, fmt::format("{}", i / 16), x + i * 25.4 / 16, y + 5.2, kNumberMm, true);
  }
  write(page, "mm", x - 8, y - 5, kNumberMm, false);
  write(page, "inch", x - 8, y + 1.5, kNumberMm, false);
}

void draw_sheet(cairo_t* page, const SheetLayout& sheet) {
  cairo_set_source_rgb(page, 1, 1, 1);
  cairo_paint(page);
  for (const Fiducial& fiducial : sheet.fiducials)
    draw_fiducial(page, fiducial);
  draw_ruler(page, sheet);
  const double x = sheet.fiducials.front().x_mm;
  write(
      page,
      fmt::format("Scale sheet for lotwear, {} paper.\n"
                  "1. Print at 100 % (actual size, not \"fit to page\"), black on plain white paper.\n"
                  "2. Hold a tape measure against the ruler. If the two differ, do not use this print.\n"
                  "3. Lay it flat on the pavement beside the marking, not on it, and weigh down its white edges.\n"
                  "4. Take the photo so that the whole marking and the whole sheet are in it, no black square covered.",
                  sheet.paper == Paper::letter ? "US Letter" : "A4"),
      x, sheet.ruler_y_mm + kBelowRulerMm, kTextMm, false, sheet.width_mm - 2 * x);
}

cairo_status_t append(void* closure, const unsigned char* bytes, unsigned int count) {
  static_cast<std::string*>(closure)->append(bytes, bytes + count);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::string sheet_pdf(const std::vector<Paper>& papers) {
  require(!papers.empty(), "a scale sheet file has a page");
  std::string bytes;
  const SheetLayout first = sheet_layout(papers.front());
  const Held<cairo_surface_t> surface(cairo_pdf_surface_create_for_stream(append, &bytes, first.width_mm * kPointsPerMm,
                                                                          first.height_mm * kPointsPerMm));
  check(cairo_surface_status(surface.get()));
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, "Scale sheet for lotwear");
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATE_DATE, "");
  for (const Paper paper : papers) {
    const SheetLayout sheet = sheet_layout(paper);
    cairo_pdf_surface_set_size(surface.get(), sheet.width_mm * kPointsPerMm, sheet.height_mm * kPointsPerMm);
    const Held<cairo_t> page(cairo_create(surface.get()));
    cairo_scale(page.get(), kPointsPerMm, kPointsPerMm);
    draw_sheet(page.get(), sheet);
    cairo_show_page(page.get());
    check(cairo_status(page.get()));
  }
  cairo_surface_finish(surface.get());
  check(cairo_surface_status(surface.get()));
  return bytes;
}

std::string sheet_png(Paper paper, double dpi) {
  require(dpi >= kSheetDpiLow && dpi <= kSheetDpiHigh, "a scale sheet picture keeps to its range of dots per inch");
  const SheetLayout sheet = sheet_layout(paper);
  const double per_mm = dpi / 25.4;
  const cv::Size size(static_cast<int>(std::lround(sheet.width_mm * per_mm)),
                      static_cast<int>(std::lround(sheet.height_mm * per_mm)));
  cv::Mat drawn(size, CV_8UC4, cv::Scalar::all(255));
  const Held<cairo_surface_t> surface(cairo_image_surface_create_for_data(drawn.data, CAIRO_FORMAT_RGB24, size.width,
                                                                          size.height, static_cast<int>(drawn.step)));
  check(cairo_surface_status(surface.get()));
  {
    const Held<cairo_t> page(cairo_create(surface.get()));
    cairo_scale(page.get(), per_mm, per_mm);
    draw_sheet(page.get(), sheet);
    check(cairo_status(page.get()));
  }
  cairo_surface_flush(surface.get());
  cv::Mat grey;
  cv::extractChannel(drawn, grey, 1);
  return grey_png(grey, dpi);
}

}  // namespace lotwear
