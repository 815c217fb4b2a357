#include "views/pdf_flow.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

#include "views/html_text.hpp"

namespace lotwear {

namespace {

constexpr PageInks kPage = kLightPage;
constexpr double kGap = 8;       // between columns
constexpr double kRowAir = 2.6;  // above and below the words of a row
constexpr double kBetween = 22;  // between the two columns of guides
constexpr double kSign = 10;     // width of an action's sign with its gap

TextStyle style_of(double size, Ink ink = kPage.ink, bool bold = false) { return {size, bold, false, ink}; }

TextStyle cell_style(const PdfCell& cell, bool number, double size) {
  TextStyle style = style_of(cell.mono ? size * 0.74 : size, kPage.ink, cell.bold);
  style.mono = cell.mono;
  if (number) style.align = TextStyle::Align::right;
  if (!cell.link.empty()) style.ink = kPage.link_ink;
  return style;
}

}  // namespace

PdfTable pdf_table(const ReportTable& table, const std::vector<ReportFact>& totals) {
  PdfTable out{table.head, table.number, {}, totals};
  for (const auto& row : table.rows) {
    std::vector<PdfCell> cells;
    for (const std::string& words : row)
      cells.push_back({words, ""});
    out.rows.push_back(std::move(cells));
  }
  return out;
}

PdfFlow::PdfFlow(PdfPen& pen, const ReportContent& content, int pages) : pen_(pen), pages_(pages) {
  pen_.on_new_page = [this, &content](PdfPen&) { begin_page(content); };
  pen_.on_page_end = [this, &content](PdfPen&) { end_page(content); };
  pen_.new_page();
}

void PdfFlow::begin_page(const ReportContent& content) {
  y = kHead;
  if (pen_.page() == 1) return;
  const TextStyle quiet = style_of(7.6, kPage.quiet_ink);
  constexpr std::size_t kLongest = 90;
  const std::string title = safe_text(cut_short(content.title, kLongest));
  pen_.text(kSide, 22, width() * 0.6, title, quiet);
  if (!content.copy_words.empty()) {
    TextStyle warn = style_of(7.6, kPage.grind_ink, true);
    warn.align = TextStyle::Align::right;
    pen_.text(kSide + width() * 0.4, 22, width() * 0.6, content.copy_words, warn);
  }
  pen_.rule(kSide, 35, kSide + width(), 35, kPage.edge);
}

void PdfFlow::end_page(const ReportContent& content) {
  TextStyle quiet = style_of(7.6, kPage.quiet_ink);
  const double foot = pen_.size().height - 30;
  pen_.text(kSide, foot, width() * 0.7, safe_text("Made by " + content.program + " from the survey's measurements"),
            quiet);
  quiet.align = TextStyle::Align::right;
  pen_.text(kSide, foot, width(), fmt::format("page {} of {}", pen_.page(), pages_), quiet);
}

void PdfFlow::room(double height) {
  if (y + height > bottom() && y > kHead + 1) pen_.new_page();
}

void PdfFlow::mark(const std::string& words, const std::string& name) {
  if (!names_.insert(name).second) return;
  pen_.destination(name, 0, std::max(0.0, y - 12));
  pen_.bookmark(words, std::max(0.0, y - 12), section_);
}

void PdfFlow::section(const std::string& words, const std::string& name, double with) {
  const TextStyle style = style_of(15, kPage.ink, true);
  const double high = pen_.height_of(words, width(), style);
  room(16 + high + with);
  if (y > kHead + 1) space(16);
  section_ = 0;
  if (names_.insert(name).second) pen_.destination(name, 0, std::max(0.0, y - 12));
  section_ = pen_.bookmark(words, std::max(0.0, y - 12), 0);
  pen_.rect(kSide, y + high / 2 - 2, 20, 4, kPage.ink);
  pen_.begin_tag("H1");
  pen_.text(kSide + 28, y, width() - 28, words, style);
  pen_.end_tag("H1");
  space(high + 6);
}

void PdfFlow::heading(const std::string& words, double with) {
  const TextStyle style = style_of(10.5, kPage.ink, true);
  const double high = pen_.height_of(words, width(), style);
  room(8 + high + with);
  space(7);
  pen_.begin_tag("H2");
  pen_.text(kSide, y, width(), words, style);
  pen_.end_tag("H2");
  space(high + 3);
}

void PdfFlow::paragraph(const std::string& words, double size) {
  // Lines longer than some 105 letters are hard to follow back.
  const double wide = std::min(width(), size * 57);
  const double high = pen_.height_of(words, wide, style_of(size));
  room(high);
  pen_.begin_tag("P");
  pen_.text(kSide, y, wide, words, style_of(size));
  pen_.end_tag("P");
  space(high + 4);
}

void PdfFlow::points(const std::vector<std::string>& words) {
  for (const std::string& point : words) {
    const double high = pen_.height_of(safe_text(point), width() - 12, style_of(8.8));
    room(high);
    pen_.rect(kSide + 2, y + 4.6, 4, 2, kPage.ink);
    pen_.begin_tag("P");
    pen_.text(kSide + 12, y, width() - 12, safe_text(point), style_of(8.8));
    pen_.end_tag("P");
    space(high + 2.5);
  }
}

void PdfFlow::flag(const std::string& label, const std::string& words, Ink ink) {
  const double high = pen_.height_of(words, width() - 100, style_of(9));
  room(high + 12);
  pen_.rect(kSide, y, 4, high + 8, ink);
  pen_.frame(kSide, y, width(), high + 8, ink);
  pen_.text(kSide + 12, y + 4, 84, label, style_of(9, ink, true));
  pen_.text(kSide + 96, y + 4, width() - 100, words, style_of(9));
  space(high + 14);
}

void PdfFlow::figure(const Drawing& drawing) {
  const double high = drawing.height * width() / drawing.width;
  room(high);
  space(pen_.drawing(kSide, y, width(), drawing) + 4);
}

std::vector<double> PdfFlow::column_widths(const PdfTable& table, double size) const {
  constexpr double kWidestWord = 110, kWidest = 230;
  const std::size_t columns = table.head.size();
  std::vector<double> natural(columns, 0), least(columns, 0);
  const auto take = [&](std::size_t column, const std::string& words, const TextStyle& style, double extra) {
    natural[column] = std::max(natural[column], std::min(kWidest, pen_.natural_width(words, style) + extra + 0.5));
    least[column] = std::max(least[column], std::min(kWidestWord, pen_.widest_word(words, style) + extra + 0.5));
  };
  for (std::size_t i = 0; i < columns; ++i)
    take(i, table.head[i], style_of(size * 0.92, kPage.ink, true), 0);
  for (const auto& row : table.rows) {
    for (std::size_t i = 0; i < std::min(columns, row.size()); ++i) {
      take(i, safe_text(row[i].words), cell_style(row[i], false, size), row[i].sign ? kSign : 0);
      if (!row[i].quiet.empty()) take(i, safe_text(row[i].quiet), style_of(size * 0.88), 0);
    }
  }
  for (const ReportFact& total : table.totals) {
    natural.back() = std::max(natural.back(), pen_.natural_width(total.value, style_of(size + 1, kPage.ink, true)) + 1);
    least.back() = std::max(least.back(), natural.back());
  }
  const double space = width() - kGap * static_cast<double>(columns - 1);
  const double all = std::accumulate(natural.begin(), natural.end(), 0.0),
               fewest = std::accumulate(least.begin(), least.end(), 0.0);
  std::vector<double> widths = natural;
  if (all <= space * 0.42 && table.totals.empty()) {
    for (double& one : widths)
      one += 14;  // figures close to their words are easier to follow than far across the page
  } else if (all <= space) {
    // What is left over goes to the columns of words, by their need.
    double texts = 0;
    for (std::size_t i = 0; i < columns; ++i)
      texts += table.number[i] ? 0 : natural[i];
    for (std::size_t i = 0; i < columns; ++i)
      widths[i] += table.number[i] || texts <= 0 ? 0 : (space - all) * natural[i] / texts;
  } else if (fewest >= space) {
    for (std::size_t i = 0; i < columns; ++i)
      widths[i] = least[i] * space / fewest;
  } else {
    for (std::size_t i = 0; i < columns; ++i)
      widths[i] = least[i] + (natural[i] - least[i]) * (space - fewest) / (all - fewest);
  }
  return widths;
}

double PdfFlow::row_height(const std::vector<PdfCell>& row, const std::vector<double>& widths, double size) const {
  double high = 0;
  for (std::size_t i = 0; i < std::min(widths.size(), row.size()); ++i) {
    const PdfCell& cell = row[i];
    double cell_high =
        pen_.height_of(safe_text(cell.words), widths[i] - (cell.sign ? kSign : 0), cell_style(cell, false, size));
    if (!cell.quiet.empty()) cell_high += pen_.height_of(safe_text(cell.quiet), widths[i], style_of(size * 0.88));
    high = std::max(high, cell_high);
  }
  return high + 2 * kRowAir;
}

void PdfFlow::draw_row(const PdfTable& table, const std::vector<PdfCell>& row, const std::vector<double>& widths,
                       double size) {
  double x = kSide;
  const double top = y + kRowAir;
  for (std::size_t i = 0; i < std::min(widths.size(), row.size()); ++i) {
    const PdfCell& cell = row[i];
    double indent = 0;
    if (cell.sign) {
      Drawing sign{16, 16, "sign", "", {}};
      sign.sign(0, 0, 16, *cell.sign);
      pen_.drawing(x, top + size * 0.12, size, sign);
      indent = kSign;
    }
    if (!cell.link.empty()) pen_.begin_link(anchor(cell.link));
    const double high =
        pen_.text(x + indent, top, widths[i] - indent, safe_text(cell.words), cell_style(cell, table.number[i], size));
    if (!cell.link.empty()) pen_.end_link();
    if (!cell.quiet.empty())
      pen_.text(x, top + high, widths[i], safe_text(cell.quiet), style_of(size * 0.88, kPage.quiet_ink));
    x += widths[i] + kGap;
  }
  space(row_height(row, widths, size));
  pen_.rule(kSide, y, kSide + table_width_, y, kPage.edge, 0.5);
}

void PdfFlow::draw_head(const PdfTable& table, const std::vector<double>& widths, double size) {
  double x = kSide, high = 0;
  for (std::size_t i = 0; i < widths.size(); ++i) {
    TextStyle style = style_of(size * 0.92, kPage.ink, true);
    if (table.number[i]) style.align = TextStyle::Align::right;
    high = std::max(high, pen_.text(x, y + kRowAir, widths[i], table.head[i], style));
    x += widths[i] + kGap;
  }
  space(high + 2 * kRowAir);
  pen_.rule(kSide, y, kSide + table_width_, y, kPage.ink, 1.1);
}

void PdfFlow::table(const std::string& caption, const PdfTable& table, double size) {
  if (table.rows.empty()) return;
  const std::vector<double> widths = column_widths(table, size);
  table_width_ = std::accumulate(widths.begin(), widths.end(), 0.0) + kGap * static_cast<double>(widths.size() - 1);
  const double totals = static_cast<double>(table.totals.size()) * (size + 9);
  const double caption_high = caption.empty() ? 0 : pen_.height_of(caption, width(), style_of(8.4)) + 2;
  const double first = row_height(table.rows.front(), widths, size);
  room(caption_high + 18 + first + (table.rows.size() == 1 ? totals : size * 2));
  if (!caption.empty()) {
    pen_.text(kSide, y, width(), caption, style_of(8.4, kPage.quiet_ink));
    space(caption_high);
  }
  draw_head(table, widths, size);
  for (std::size_t i = 0; i < table.rows.size(); ++i) {
    const bool last = i + 1 == table.rows.size();
    const double high = row_height(table.rows[i], widths, size) + (last ? totals : 0);
    if (y + high > bottom()) {
      pen_.new_page();
      draw_head(table, widths, size);
    }
    draw_row(table, table.rows[i], widths, size);
  }
  for (std::size_t i = 0; i < table.totals.size(); ++i) {
    const bool last = i + 1 == table.totals.size();
    TextStyle style = style_of(last ? size + 1 : size, kPage.ink, true);
    style.align = TextStyle::Align::right;
    pen_.text(kSide, y + 3, width() - widths.back() - kGap, table.totals[i].name, style);
    pen_.text(kSide + width() - widths.back(), y + 3, widths.back(), table.totals[i].value, style);
    space(size + 9);
  }
  space(8);
}

double PdfFlow::guide(const ReportSection& section, double x, double top, double wide, bool draw) {
  double at = top;
  const auto put = [&](const std::string& words, const TextStyle& style, double indent, double after) {
    at +=
        (draw ? pen_.text(x + indent, at, wide - indent, words, style) : pen_.height_of(words, wide - indent, style)) +
        after;
  };
  put(section.title, style_of(10, kPage.ink, true), 0, 2);
  for (const std::string& words : section.paragraphs)
    put(words, style_of(8.5), 0, 3);
  for (const std::string& words : section.points) {
    if (draw) pen_.rect(x + 1, at + 4.4, 3.6, 1.8, kPage.ink);
    put(words, style_of(8.5), 10, 2.5);
  }
  if (!section.source.empty()) put("Figures: " + section.source + ".", style_of(7.6, kPage.quiet_ink), 0, 2);
  return at - top;
}

double PdfFlow::first_guide_height(const std::vector<ReportSection>& sections) {
  return sections.empty() ? 0 : guide(sections.front(), 0, 0, (width() - kBetween) / 2, false);
}

void PdfFlow::guides(const std::vector<ReportSection>& sections) {
  constexpr double kAfter = 10;
  const double wide = (width() - kBetween) / 2;
  double column[2] = {y, y};
  for (const ReportSection& section : sections) {
    const double high = guide(section, 0, 0, wide, false);
    int side = column[1] < column[0] ? 1 : 0;
    if (column[side] + high > bottom()) side = 1 - side;
    if (column[side] + high > bottom()) {
      pen_.new_page();
      column[0] = column[1] = y;
      side = 0;
    }
    guide(section, kSide + side * (wide + kBetween), column[side], wide, true);
    column[side] += high + kAfter;
  }
  y = std::max(column[0], column[1]);
}

}  // namespace lotwear
