#pragma once
// A sheet of a workbook being written: cells by row and column, formulas with the value they have now, so that readers
// that do not compute show the right number too.

#include <xlsxwriter.h>

#include <string>
#include <string_view>
#include <vector>

namespace lotwear {

struct XlsxFormats {
  lxw_format *head = nullptr, *money = nullptr, *number = nullptr, *plain = nullptr, *wrap = nullptr, *bold = nullptr,
             *bold_money = nullptr, *input = nullptr;
};
XlsxFormats add_formats(lxw_workbook* book);

class XlsxSheet {
 public:
  XlsxSheet(lxw_workbook* book, const char* name, const XlsxFormats& formats, const std::vector<std::string>& head,
            const std::vector<double>& widths);

  int row() const { return row_; }  ///< of the next cells, from 0
  void next() { ++row_; }
  void text(int column, const std::string& words);
  void bold(int column, const std::string& words);
  void number(int column, double value);
  void input(int column, double value);  ///< a number that a person may change
  void money(int column, double value);
  void formula(int column, const std::string& formula, double value, lxw_format* format);

  const XlsxFormats& formats() const { return formats_; }

 private:
  lxw_worksheet* sheet_ = nullptr;
  XlsxFormats formats_;
  int row_ = 1;
};

/// "B7" from column 1, row 6; "$B$7" when it must stay.
std::string cell_name(int column, int row);
std::string fixed_cell(int column, int row);

}  // namespace lotwear
