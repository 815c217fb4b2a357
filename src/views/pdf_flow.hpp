#pragma once
// Sections of a report flowing over PDF pages: headings keep what follows them, rows and boxes stay whole, heads of
// tables come again on every page.

#include <optional>
#include <set>
#include <string>
#include <vector>

#include "views/pdf_pen.hpp"

namespace lotwear {

struct PdfCell {
  std::string words;
  std::string link;              ///< id of a card
  std::optional<Action> sign{};  ///< drawn before the words
  std::string quiet{};           ///< a second, quieter line
  bool mono = false, bold = false;
};

struct PdfTable {
  std::vector<std::string> head;
  std::vector<bool> number;
  std::vector<std::vector<PdfCell>> rows;
  std::vector<ReportFact> totals;  ///< under the last column
};

PdfTable pdf_table(const ReportTable& table, const std::vector<ReportFact>& totals = {});

class PdfFlow {
 public:
  /// pages  in all, for the feet; 0 while they are counted
  PdfFlow(PdfPen& pen, const ReportContent& content, int pages);

  PdfPen& pen() { return pen_; }
  double left() const { return kSide; }
  double width() const { return pen_.size().width - 2 * kSide; }
  double bottom() const { return pen_.size().height - kFoot; }
  double y = 0;

  /// A new page unless so much fits on this one; a thing higher than a page begins on a fresh one.
  void room(double height);
  void space(double height) { y += height; }

  /// Its bookmark and its destination; keeps `with` points of what follows on the same page.
  void section(const std::string& words, const std::string& name, double with = 70);
  void heading(const std::string& words, double with = 40);
  void paragraph(const std::string& words, double size = 9.2);
  void points(const std::vector<std::string>& words);
  void flag(const std::string& label, const std::string& words, Ink ink);
  void table(const std::string& caption, const PdfTable& table, double size = 8.2);
  /// Two columns, each section whole.
  void guides(const std::vector<ReportSection>& sections);
  /// What a heading above them has to keep on its page.
  double first_guide_height(const std::vector<ReportSection>& sections);
  /// A drawing over the full width.
  void figure(const Drawing& drawing);

  /// A destination and, under the last section, a bookmark; a name that stands twice leads to the first.
  void mark(const std::string& words, const std::string& name);

  static constexpr double kSide = 40, kHead = 46, kFoot = 44;

 private:
  void begin_page(const ReportContent& content);
  void end_page(const ReportContent& content);
  std::vector<double> column_widths(const PdfTable& table, double size) const;
  double row_height(const std::vector<PdfCell>& row, const std::vector<double>& widths, double size) const;
  void draw_row(const PdfTable& table, const std::vector<PdfCell>& row, const std::vector<double>& widths, double size);
  void draw_head(const PdfTable& table, const std::vector<double>& widths, double size);
  double guide(const ReportSection& section, double x, double top, double width, bool draw);

  PdfPen& pen_;
  int pages_ = 0, section_ = 0;
  double table_width_ = 0;  ///< of the table being drawn: a small one is not stretched over the page
  std::set<std::string> names_;
};

}  // namespace lotwear
