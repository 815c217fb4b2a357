#include "tally/xlsx_sheet.hpp"

#include <fmt/format.h>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

void check(lxw_error error) {
  if (error != LXW_NO_ERROR)
    throw Failure(fmt::format("estimate.xlsx cannot be made ({}); shorten what is written in the survey or the rates",
                              lxw_strerror(error)));
}

lxw_row_t at_row(int row) { return static_cast<lxw_row_t>(row); }
lxw_col_t at_column(int column) { return static_cast<lxw_col_t>(column); }

/// Cells hold 32767 letters at most.
std::string that_fits(const std::string& words) {
  constexpr std::size_t kMost = 32000;
  if (words.size() <= kMost) return words;
  std::size_t end = kMost;
  while (end > 0 && (static_cast<unsigned char>(words[end]) & 0xC0U) == 0x80)
    --end;
  return words.substr(0, end) + "...";
}

}  // namespace

XlsxFormats add_formats(lxw_workbook* book) {
  XlsxFormats formats;
  for (lxw_format** one : {&formats.head, &formats.money, &formats.number, &formats.plain, &formats.wrap, &formats.bold,
                           &formats.bold_money, &formats.input}) {
    *one = workbook_add_format(book);
    format_set_align(*one, LXW_ALIGN_VERTICAL_TOP);
  }
  format_set_bold(formats.head);
  format_set_bottom(formats.head, LXW_BORDER_THIN);
  format_set_text_wrap(formats.head);
  format_set_num_format(formats.money, "#,##0.00");
  format_set_num_format(formats.number, "#,##0.00");
  format_set_text_wrap(formats.wrap);
  format_set_bold(formats.bold);
  format_set_bold(formats.bold_money);
  format_set_num_format(formats.bold_money, "#,##0.00");
  format_set_num_format(formats.input, "#,##0.00####");
  format_set_bg_color(formats.input, 0xFFF7DB);
  return formats;
}

XlsxSheet::XlsxSheet(lxw_workbook* book, const char* name, const XlsxFormats& formats,
                     const std::vector<std::string>& head, const std::vector<double>& widths)
    : sheet_(workbook_add_worksheet(book, name)), formats_(formats) {
  require(sheet_ != nullptr, "a workbook takes its sheets");
  for (std::size_t i = 0; i < head.size(); ++i) {
    const auto column = static_cast<lxw_col_t>(i);
    check(worksheet_set_column(sheet_, column, column, widths.at(i), nullptr));
    check(worksheet_write_string(sheet_, 0, column, head[i].c_str(), formats_.head));
  }
  worksheet_freeze_panes(sheet_, 1, 0);
  worksheet_set_landscape(sheet_);
  worksheet_fit_to_pages(sheet_, 1, 0);
}

// write_string makes a string of everything: a name that begins with "=" never becomes a formula.
void XlsxSheet::text(int column, const std::string& words) {
  check(worksheet_write_string(sheet_, at_row(row_), at_column(column), that_fits(words).c_str(), formats_.wrap));
}
void XlsxSheet::bold(int column, const std::string& words) {
  check(worksheet_write_string(sheet_, at_row(row_), at_column(column), that_fits(words).c_str(), formats_.bold));
}
void XlsxSheet::number(int column, double value) {
  check(worksheet_write_number(sheet_, at_row(row_), at_column(column), value, formats_.number));
}
void XlsxSheet::input(int column, double value) {
  check(worksheet_write_number(sheet_, at_row(row_), at_column(column), value, formats_.input));
}
void XlsxSheet::money(int column, double value) {
  check(worksheet_write_number(sheet_, at_row(row_), at_column(column), value, formats_.money));
}
void XlsxSheet::formula(int column, const std::string& formula, double value, lxw_format* format) {
  check(worksheet_write_formula_num(sheet_, at_row(row_), at_column(column), formula.c_str(), format, value));
}

std::string cell_name(int column, int row) {
  std::string letters;
  for (int rest = column; rest >= 0; rest = rest / 26 - 1)
    letters.insert(letters.begin(), static_cast<char>('A' + rest % 26));
  return fmt::format("{}{}", letters, row + 1);
}

std::string fixed_cell(int column, int row) {
  const std::string plain = cell_name(column, row);
  const std::size_t digits = plain.find_first_of("0123456789");
  return "$" + plain.substr(0, digits) + "$" + plain.substr(digits);
}

}  // namespace lotwear
