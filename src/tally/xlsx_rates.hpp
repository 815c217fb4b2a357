#pragma once
// The workbook's sheet of rates, which only the contractor's copy has.

#include <map>
#include <string>

#include "tally/tally.hpp"
#include "tally/xlsx_sheet.hpp"

namespace lotwear {

/// Sizes of the units shown, and their words.
struct InUnits {
  double length = 1, area = 1, volume = 1, mass = 1;
  std::string length_word = "m", area_word = "m2", volume_word = "l", mass_word = "kg";
};
InUnits in_units(Units units);

inline double money(std::int64_t cents) { return static_cast<double>(cents) / 100; }
inline double share(std::int64_t hundredths_of_percent) { return static_cast<double>(hundredths_of_percent) / 10000; }

/// Rates that the workbook's formulas lean on: a row each, in the units of the estimate.
class RatesSheet {
 public:
  RatesSheet(lxw_workbook* book, const XlsxFormats& formats, const Estimate& sum, const Rates& rates);
  /// "Rates!$B$7"; nothing for a field that has no row.
  std::string cell(const std::string& field) const;

 private:
  void add(const std::string& field, double value, const std::string& unit);
  void add_work(const Estimate& sum, const Rates& rates);
  void add_prices(const Estimate& sum, const Rates& rates);
  XlsxSheet sheet_;
  std::map<std::string, std::string> cells_;
};

}  // namespace lotwear
