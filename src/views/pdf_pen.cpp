#include "views/pdf_pen.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include <algorithm>
#include <cmath>

#include "base/trouble.hpp"
#include "views/cairo_held.hpp"
#include "views/html_text.hpp"
#include "views/pdf_picture.hpp"
#include "views/pdf_shapes.hpp"

namespace lotwear {

namespace {

void check(cairo_status_t status) {
  if (status != CAIRO_STATUS_SUCCESS)
    throw Failure(fmt::format("the PDF cannot be drawn ({})", cairo_status_to_string(status)));
}

cairo_status_t append(void* closure, const unsigned char* bytes, unsigned int count) {
  if (closure != nullptr) static_cast<std::string*>(closure)->append(bytes, bytes + count);
  return CAIRO_STATUS_SUCCESS;
}

/// Narrow letters make tables fit; the others stand in where the machine lacks them.
constexpr const char* kFont = "DejaVu Sans Condensed,DejaVu Sans,Sans";
constexpr const char* kMonoFont = "DejaVu Sans Mono,Monospace";

Held<PangoLayout> layout_of(cairo_t* on, const std::string& words, double width, const TextStyle& style) {
  Held<PangoLayout> layout(pango_cairo_create_layout(on));
  const Held<cairo_font_options_t> options(cairo_font_options_create());
  cairo_font_options_set_hint_style(options.get(), CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options.get(), CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(pango_layout_get_context(layout.get()), options.get());
  pango_context_set_round_glyph_positions(pango_layout_get_context(layout.get()), FALSE);
  const Held<PangoFontDescription> font(pango_font_description_new());
  pango_font_description_set_family(font.get(), style.mono ? kMonoFont : kFont);
  if (style.bold) pango_font_description_set_weight(font.get(), PANGO_WEIGHT_BOLD);
  pango_font_description_set_absolute_size(font.get(), style.size * PANGO_SCALE);
  pango_layout_set_font_description(layout.get(), font.get());
  pango_layout_set_line_spacing(layout.get(), static_cast<float>(style.line_spacing));
  if (width > 0) {
    pango_layout_set_width(layout.get(), static_cast<int>(width * PANGO_SCALE));
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
    const PangoAlignment align = style.align == TextStyle::Align::right    ? PANGO_ALIGN_RIGHT
                                 : style.align == TextStyle::Align::middle ? PANGO_ALIGN_CENTER
                                                                           : PANGO_ALIGN_LEFT;
    pango_layout_set_alignment(layout.get(), align);
  }
  pango_layout_set_text(layout.get(), words.c_str(), static_cast<int>(words.size()));
  return layout;
}

double height_in_points(PangoLayout* layout) {
  PangoRectangle box;
  pango_layout_get_extents(layout, nullptr, &box);
  return static_cast<double>(box.height) / PANGO_SCALE;
}

double width_in_points(PangoLayout* layout) {
  PangoRectangle box;
  pango_layout_get_extents(layout, nullptr, &box);
  return static_cast<double>(box.width) / PANGO_SCALE;
}

/// In an attribute of a tag; names are anchors, so nothing has to be escaped.
std::string named(const char* attribute, const std::string& name) { return fmt::format("{}='{}'", attribute, name); }

}  // namespace

std::string safe_text(const std::string& text) {
  std::string safe = valid_utf8(text);
  std::replace(safe.begin(), safe.end(), '\t', ' ');
  // First strong isolate ... pop: right-to-left marks in a name cannot turn its surroundings around.
  const bool plain = std::all_of(safe.begin(), safe.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; });
  return plain ? safe : "\u2068" + safe + "\u2069";
}

struct PdfPen::Cairo {
  Held<cairo_surface_t> surface;
  Held<cairo_t> to;
};

PdfPen::PdfPen(std::string* out, PageSize size, const std::string& date)
    : cairo_(std::make_unique<Cairo>()), size_(size), counts_(out == nullptr) {
  cairo_->surface.reset(cairo_pdf_surface_create_for_stream(append, out, size.width, size.height));
  check(cairo_surface_status(cairo_->surface.get()));
  cairo_pdf_surface_restrict_to_version(cairo_->surface.get(), CAIRO_PDF_VERSION_1_5);
  // Never now: the same survey makes the same bytes.
  cairo_pdf_surface_set_metadata(cairo_->surface.get(), CAIRO_PDF_METADATA_CREATE_DATE, date.c_str());
  cairo_->to.reset(cairo_create(cairo_->surface.get()));
  // Without a document around them, Cairo 1.16 refers to the structure of links and never writes it.
  cairo_tag_begin(cairo_->to.get(), "Document", nullptr);
}

PdfPen::~PdfPen() = default;

void PdfPen::metadata(const std::string& title, const std::string& subject, const std::string& creator) {
  cairo_surface_t* const to = cairo_->surface.get();
  cairo_pdf_surface_set_metadata(to, CAIRO_PDF_METADATA_TITLE, valid_utf8(title).c_str());
  cairo_pdf_surface_set_metadata(to, CAIRO_PDF_METADATA_SUBJECT, valid_utf8(subject).c_str());
  cairo_pdf_surface_set_metadata(to, CAIRO_PDF_METADATA_CREATOR, valid_utf8(creator).c_str());
}

void PdfPen::new_page() {
  if (page_ > 0) {
    if (on_page_end) on_page_end(*this);
    cairo_show_page(cairo_->to.get());
  }
  ++page_;
  if (on_new_page) on_new_page(*this);
}

void PdfPen::finish() {
  if (on_page_end) on_page_end(*this);
  cairo_show_page(cairo_->to.get());
  cairo_tag_end(cairo_->to.get(), "Document");
  check(cairo_status(cairo_->to.get()));
  cairo_->to.reset();
  cairo_surface_finish(cairo_->surface.get());
  check(cairo_surface_status(cairo_->surface.get()));
}

double PdfPen::text(double x, double y, double width, const std::string& words, const TextStyle& style) {
  const Held<PangoLayout> layout = layout_of(cairo_->to.get(), words, width, style);
  set_ink(cairo_->to.get(), style.ink);
  cairo_move_to(cairo_->to.get(), x, y);
  pango_cairo_show_layout(cairo_->to.get(), layout.get());
  return height_in_points(layout.get());
}

double PdfPen::height_of(const std::string& words, double width, const TextStyle& style) const {
  return height_in_points(layout_of(cairo_->to.get(), words, width, style).get());
}

double PdfPen::natural_width(const std::string& words, const TextStyle& style) const {
  return width_in_points(layout_of(cairo_->to.get(), words, 0, style).get());
}

double PdfPen::widest_word(const std::string& words, const TextStyle& style) const {
  double widest = 0;
  for (std::size_t at = 0; at < words.size();) {
    const std::size_t end = std::min(words.find_first_of(" \n", at), words.size());
    if (end > at) widest = std::max(widest, natural_width(words.substr(at, end - at), style));
    at = end + 1;
  }
  return widest;
}

void PdfPen::rect(double x, double y, double w, double h, Ink fill) {
  cairo_rectangle(cairo_->to.get(), x, y, w, h);
  set_ink(cairo_->to.get(), fill);
  cairo_fill(cairo_->to.get());
}

void PdfPen::frame(double x, double y, double w, double h, Ink stroke, double line_width) {
  cairo_rectangle(cairo_->to.get(), x, y, w, h);
  set_ink(cairo_->to.get(), stroke);
  cairo_set_line_width(cairo_->to.get(), line_width);
  cairo_stroke(cairo_->to.get());
}

void PdfPen::rule(double x1, double y1, double x2, double y2, Ink ink, double line_width) {
  cairo_move_to(cairo_->to.get(), x1, y1);
  cairo_line_to(cairo_->to.get(), x2, y2);
  set_ink(cairo_->to.get(), ink);
  cairo_set_line_width(cairo_->to.get(), line_width);
  cairo_stroke(cairo_->to.get());
}

void PdfPen::draw_item(const Drawn& one) {
  cairo_t* const to = cairo_->to.get();
  if (one.is == Drawn::Is::text) {
    const Tone* tone = std::get_if<Tone>(&one.fill);
    const TextStyle style{one.size, one.bold, false, ink_of(tone ? *tone : Tone::ink, kLightPage)};
    const std::string words = safe_text(one.text);
    const Held<PangoLayout> layout = layout_of(to, words, 0, style);
    const double width = width_in_points(layout.get());
    const double left = one.align == Drawn::Align::middle ? width / 2 : one.align == Drawn::Align::right ? width : 0;
    set_ink(to, style.ink);
    cairo_move_to(to, one.at[0] - left,
                  one.at[1] - static_cast<double>(pango_layout_get_baseline(layout.get())) / PANGO_SCALE);
    pango_cairo_show_layout(to, layout.get());
    return;
  }
  draw_shape(to, one);
}

double PdfPen::drawing(double x, double y, double width, const Drawing& drawing) {
  cairo_t* const to = cairo_->to.get();
  const double scale = width / drawing.width;
  cairo_save(to);
  cairo_translate(to, x, y);
  cairo_scale(to, scale, scale);
  for (const Drawn& one : drawing.items) {
    if (!one.link.empty()) begin_link(anchor(one.link));
    draw_item(one);
    if (!one.link.empty()) end_link();
  }
  cairo_restore(to);
  return drawing.height * scale;
}

bool PdfPen::picture(double x, double y, double w, double h, const ReportPicture& picture) {
  if (counts_) return true;  // a picture moves nothing: its box is as large without it
  const PrintPicture print = print_picture(picture, w, h);
  if (print.width < 1) return false;
  cairo_t* const to = cairo_->to.get();
  const double scale = std::min(w / print.width, h / print.height);
  // The pixels stay in the JPEG or PNG file; the surface only says how large they are.
  const Held<cairo_surface_t> surface(print_surface(print));
  check(cairo_surface_status(surface.get()));
  cairo_save(to);
  cairo_translate(to, x + (w - print.width * scale) / 2, y + (h - print.height * scale) / 2);
  cairo_scale(to, scale, scale);
  cairo_set_source_surface(to, surface.get(), 0, 0);
  cairo_paint(to);
  cairo_restore(to);
  return true;
}

void PdfPen::begin_tag(const char* name) { cairo_tag_begin(cairo_->to.get(), name, nullptr); }
void PdfPen::end_tag(const char* name) { cairo_tag_end(cairo_->to.get(), name); }

void PdfPen::destination(const std::string& name, double x, double y) {
  const std::string attributes = named("name", name) + fmt::format(" x={:.1f} y={:.1f}", x, y);
  cairo_tag_begin(cairo_->to.get(), CAIRO_TAG_DEST, attributes.c_str());
  cairo_tag_end(cairo_->to.get(), CAIRO_TAG_DEST);
}

void PdfPen::begin_link(const std::string& name) {
  cairo_tag_begin(cairo_->to.get(), CAIRO_TAG_LINK, named("dest", name).c_str());
}

void PdfPen::end_link() { cairo_tag_end(cairo_->to.get(), CAIRO_TAG_LINK); }

int PdfPen::bookmark(const std::string& words, double y, int parent) {
  const std::string attributes = fmt::format("page={} pos=[0 {:.1f}]", page_, y);
  return cairo_pdf_surface_add_outline(cairo_->surface.get(), parent == 0 ? CAIRO_PDF_OUTLINE_ROOT : parent,
                                       valid_utf8(words).c_str(), attributes.c_str(), CAIRO_PDF_OUTLINE_FLAG_OPEN);
}

}  // namespace lotwear
