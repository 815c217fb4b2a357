#pragma once
// Pages of a PDF, drawn from the top down: text by Pango with embedded fonts, small drawings, pictures, links,
// bookmarks. Lengths are points. A pen that only counts draws nothing and keeps the page numbers, so that "page 3 of
// 12" is known.

#include <cairo.h>

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "views/drawing.hpp"
#include "views/report_content.hpp"

namespace lotwear {

struct PageSize {
  double width = 612, height = 792;  ///< US letter
};
inline constexpr PageSize kLetterPage{612, 792};
inline constexpr PageSize kA4Page{595.28, 841.89};

struct TextStyle {
  double size = 9;
  bool bold = false, mono = false;
  Ink ink = kLightPage.ink;
  enum class Align : std::uint8_t { left, right, middle } align = Align::left;
  double line_spacing = 1.12;
};

/// Text as a person wrote it, safe to lay out: valid UTF-8, no control characters, its own direction kept to itself.
std::string safe_text(const std::string& text);

class PdfPen {
 public:
  /// Bytes are appended to `out`; nothing is kept when `out` is null, for counting pages.
  PdfPen(std::string* out, PageSize size, const std::string& date);
  ~PdfPen();
  PdfPen(const PdfPen&) = delete;
  PdfPen& operator=(const PdfPen&) = delete;

  void metadata(const std::string& title, const std::string& subject, const std::string& creator);
  /// Called when a page begins and when it ends: heads and feet.
  std::function<void(PdfPen&)> on_new_page, on_page_end;

  PageSize size() const { return size_; }
  int page() const { return page_; }
  void new_page();
  /// The last page ends; no drawing after it. Throws Failure when Cairo could not do its work.
  void finish();

  /// Draws text and answers its height; `width` wraps it.
  double text(double x, double y, double width, const std::string& words, const TextStyle& style);
  double height_of(const std::string& words, double width, const TextStyle& style) const;
  double natural_width(const std::string& words, const TextStyle& style) const;
  double widest_word(const std::string& words, const TextStyle& style) const;

  void rect(double x, double y, double w, double h, Ink fill);
  void frame(double x, double y, double w, double h, Ink stroke, double line_width = 0.6);
  void rule(double x1, double y1, double x2, double y2, Ink ink, double line_width = 0.6);
  /// Scaled to `width`; answers its height.
  double drawing(double x, double y, double width, const Drawing& drawing);
  /// Inside the box, in its middle, no larger than `dpi` needs; answers whether the bytes are a picture.
  bool picture(double x, double y, double w, double h, const ReportPicture& picture);

  /// A tag of the document's structure ("H1", "P"), for those who have the PDF read to them. Ends on its page.
  void begin_tag(const char* name);
  void end_tag(const char* name);

  void destination(const std::string& name, double x, double y);
  /// Everything drawn until `end_link` leads to the destination.
  void begin_link(const std::string& name);
  void end_link();
  /// A bookmark to here; `parent` is what an earlier one answered, 0 for none.
  int bookmark(const std::string& words, double y, int parent);

 private:
  struct Cairo;
  void draw_item(const Drawn& one);
  std::unique_ptr<Cairo> cairo_;
  PageSize size_;
  bool counts_ = false;
  int page_ = 0;
};

}  // namespace lotwear
