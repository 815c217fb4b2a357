#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <ctime>
#include <filesystem>
#include <memory>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "tally/tally.hpp"
#include "tally/xlsx_rates.hpp"
#include "tally/xlsx_sheet.hpp"

namespace lotwear {

namespace {

/// Columns of the sheet of quantities, in the units shown.
enum Column {
  kKind,
  kColour,
  kSurface,
  kAction,
  kCount,
  kLength,
  kArea,
  kPerimeter,
  kGround,
  kPasses,
  kPaint,
  kBeads,
  kPrimer,
  kDebris,
  kGrindHours,
  kPaintHours,
  kMarkings
};

/// Paint, beads and ground area are formulas over the sizes where the rates may be seen; the owner sees numbers.
void write_quantity(XlsxSheet& sheet, const QuantityLine& line, const InUnits& units, Units shown,
                    const RatesSheet* rates) {
  const int row = sheet.row();
  lxw_format* const format = sheet.formats().number;
  sheet.text(kKind, std::string(word(line.kind)));
  sheet.text(kColour, std::string(word(line.colour)));
  sheet.text(kSurface, std::string(word(line.surface)));
  sheet.text(kAction, std::string(word(line.action)));
  sheet.number(kCount, line.count);
  sheet.number(kLength, line.length_m / units.length);
  sheet.number(kArea, line.area_m2 / units.area);
  sheet.number(kPerimeter, line.perimeter_m / units.length);
  const auto computed = [&](Column column, double value, const std::string& formula) {
    if (rates != nullptr && value > 0) {
      sheet.formula(column, formula, value, format);
    } else {
      sheet.number(column, value);
    }
  };
  const std::string area = cell_name(kArea, row), outline = cell_name(kPerimeter, row), paint = cell_name(kPaint, row);
  const auto rate = [&](const char* field) { return rates == nullptr ? std::string() : rates->cell(field); };
  computed(kGround, line.grind_m2 / units.area,
           fmt::format("={}+{}*{}", area, outline, rate("preparation.grinding.margin")));
  sheet.number(kPasses, line.grind_m2 > 0 ? line.grind_pass_m2 / line.grind_m2 : 0);
  // 231 cubic inches a gallon: a square foot under one mil holds 144 / 1000 / 231 gallons; a square metre under one
  // micrometre a thousandth of a litre.
  const char* const volume = shown == Units::us_customary ? "144/1000/231" : "1/1000";
  computed(kPaint, line.paint_l / units.volume,
           fmt::format("={}*{}*{}*{}*(1+{})", area, rate("paint.wet_film"), volume, rate("paint.coats"),
                       rate("paint.waste")));
  computed(kBeads, line.beads_kg / units.mass, fmt::format("={}*{}", paint, rate("paint.beads")));
  sheet.number(kPrimer, line.primer_l / units.volume);
  sheet.number(kDebris, line.debris_l / units.volume);
  sheet.number(kGrindHours, line.grind_h + line.collect_h);
  sheet.number(kPaintHours, line.clean_h + line.dry_h + line.mask_h + line.prime_h + line.paint_h);
  sheet.text(kMarkings, fmt::format("{}", fmt::join(line.markings, " ")));
  sheet.next();
}

void write_quantities(lxw_workbook* book, const XlsxFormats& formats, const Estimate& sum, const InUnits& units,
                      const RatesSheet* rates) {
  XlsxSheet sheet(book, "Quantities", formats,
                  {"Kind", "Colour", "Surface", "Action", "Count", "Length, " + units.length_word,
                   "Area, " + units.area_word, "Outline, " + units.length_word, "Ground, " + units.area_word, "Passes",
                   "Paint, " + units.volume_word, "Beads, " + units.mass_word, "Primer, " + units.volume_word,
                   "Debris, " + units.volume_word, "Grinding, h", "Repainting, h", "Markings"},
                  {22, 9, 10, 18, 7, 9, 9, 9, 9, 8, 9, 9, 9, 9, 10, 11, 50});
  for (const QuantityLine& line : sum.quantities)
    write_quantity(sheet, line, units, sum.units, rates);
}

/// The cell or sum in the sheet of quantities that a price line's quantity is a copy of; empty for a number of its own.
std::string quantity_source(const PriceLine& line, const Estimate& sum, const InUnits& units) {
  const auto last = static_cast<int>(sum.quantities.size());
  const auto column = [&](Column which) {
    return fmt::format("Quantities!{}:{}", fixed_cell(which, 1), fixed_cell(which, last));
  };
  const auto cell = [&](Column which) { return "Quantities!" + cell_name(which, line.quantity_line + 1); };
  const auto scaled = [&](const std::string& source, double shown) {
    const double factor = shown / line.unit_size;
    return std::abs(factor - 1) < 1e-12 ? source : fmt::format("{}*{:.12g}", source, factor);
  };
  switch (line.quantity_of) {
    case QuantityOf::length:
      return scaled(cell(kLength), units.length);
    case QuantityOf::area:
      return scaled(cell(kArea), units.area);
    case QuantityOf::ground:
      return scaled(cell(kGround), units.area);
    case QuantityOf::repaint_hours:
      return scaled(cell(kPaintHours), 1);
    case QuantityOf::grind_hours:
      return scaled(cell(kGrindHours), 1);
    case QuantityOf::paint:
      return scaled(fmt::format("SUMIF({},\"{}\",{})", column(kColour), word(line.colour.value_or(Colour::other)),
                                column(kPaint)),
                    units.volume);
    case QuantityOf::beads:
      return scaled(fmt::format("SUM({})", column(kBeads)), units.mass);
    case QuantityOf::primer:
      return scaled(fmt::format("SUM({})", column(kPrimer)), units.volume);
    case QuantityOf::debris:
      return scaled(fmt::format("SUM({})", column(kDebris)), units.volume);
    default:
      return "";
  }
}

constexpr int kWhat = 0, kQuantity = 1, kUnit = 2, kPrice = 3, kAmount = 4, kOf = 5, kFrom = 6;

/// What a price line comes to, as a formula in its row.
std::string amount_formula(const PriceLine& line, int row, const std::string& rate) {
  const std::string above = fmt::format("{}:{}", fixed_cell(kAmount, 1), cell_name(kAmount, row - 1));
  switch (line.of) {
    case PriceOf::surcharge:
      return fmt::format("=ROUND(SUMIF({}:{},\"work\",{})*{},2)", fixed_cell(kOf, 1), cell_name(kOf, row - 1), above,
                         rate);
    case PriceOf::discount:
      return fmt::format("=-ROUND(SUM({})*{},2)", above, rate);
    case PriceOf::minimum:
      return fmt::format("=MAX(0,{}-SUM({}))", rate, above);
    default:
      return fmt::format("=ROUND({}*{},2)", cell_name(kQuantity, row), cell_name(kPrice, row));
  }
}

void write_price_line(XlsxSheet& sheet, const PriceLine& line, const Estimate& sum, const InUnits& units,
                      const RatesSheet* rates) {
  const int row = sheet.row();
  const bool by_quantity = line.of == PriceOf::work || line.of == PriceOf::material || line.of == PriceOf::extra ||
                           line.of == PriceOf::journey;
  sheet.text(kWhat, line.what);
  sheet.text(kOf, std::string(word(line.of)));
  if (by_quantity) {
    const std::string source = quantity_source(line, sum, units);
    source.empty()
        ? sheet.number(kQuantity, line.quantity)
        : sheet.formula(kQuantity, fmt::format("=ROUND({},2)", source), line.quantity, sheet.formats().number);
    sheet.text(kUnit, line.unit);
    const std::string cell = rates == nullptr ? "" : rates->cell(line.rate);
    if (cell.empty()) {
      sheet.input(kPrice, money(line.unit_price_cents));
    } else {
      const bool marked = line.of == PriceOf::material;
      sheet.formula(kPrice,
                    marked ? fmt::format("=ROUND({}*(1+{}),2)", cell, rates->cell("prices.markup")) : "=" + cell,
                    money(line.unit_price_cents), sheet.formats().money);
    }
  }
  std::string rate = rates == nullptr ? "" : rates->cell(line.rate);
  if (rate.empty()) {
    rate = line.of == PriceOf::minimum ? fmt::format("{:.2f}", money(sum.minimum_cents))
                                       : fmt::format("{:.4f}", share(line.hundredths_of_percent));
  }
  sheet.formula(kAmount, amount_formula(line, row, rate), money(line.amount_cents), sheet.formats().money);
  if (rates != nullptr) sheet.text(kFrom, line.formula);
  sheet.next();
}

void write_totals(XlsxSheet& sheet, const Estimate& sum, int lines, const RatesSheet* rates) {
  const std::string amounts = fmt::format("{}:{}", fixed_cell(kAmount, 1), fixed_cell(kAmount, lines));
  const std::string kinds = fmt::format("{}:{}", fixed_cell(kOf, 1), fixed_cell(kOf, lines));
  const int subtotal = sheet.row();
  const auto total = [&](const char* name, const std::string& formula, std::int64_t cents) {
    sheet.bold(kWhat, name);
    sheet.formula(kAmount, formula, money(cents), sheet.formats().bold_money);
    sheet.next();
  };
  total("Subtotal", fmt::format("=SUM({})", amounts), sum.subtotal_cents);
  const std::string tax =
      rates == nullptr ? fmt::format("{:.4f}", share(sum.tax_hundredths_of_percent)) : rates->cell("job.tax");
  const std::string taxed = sum.tax_on == TaxOn::materials ? fmt::format("SUMIF({},\"material\",{})", kinds, amounts)
                                                           : cell_name(kAmount, subtotal);
  total("Tax", fmt::format("=ROUND({}*{},2)", taxed, tax), sum.tax_cents);
  total("Total", fmt::format("={}+{}", cell_name(kAmount, subtotal), cell_name(kAmount, subtotal + 1)),
        sum.total_cents);
}

/// Answers the cell of the subtotal.
std::string write_prices(lxw_workbook* book, const XlsxFormats& formats, const Estimate& sum, const InUnits& units,
                         const RatesSheet* rates) {
  XlsxSheet sheet(book, "Price", formats,
                  {"Item", "Quantity", "Unit", "Price, " + sum.currency, "Amount, " + sum.currency, "What it is",
                   rates == nullptr ? "" : "How it came about"},
                  {52, 11, 8, 12, 14, 11, rates == nullptr ? 2.0 : 70.0});
  bool has_minimum = false;
  for (const PriceLine& line : sum.prices) {
    write_price_line(sheet, line, sum, units, rates);
    has_minimum |= line.of == PriceOf::minimum;
  }
  if (!has_minimum && sum.minimum_cents > 0 && !sum.prices.empty()) {
    PriceLine none;  // a lower rate may need it
    none.what = "Minimum call-out", none.of = PriceOf::minimum, none.rate = "job.minimum";
    write_price_line(sheet, none, sum, units, rates);
  }
  const int lines = std::max(1, sheet.row() - 1);
  const std::string subtotal = "Price!" + cell_name(kAmount, sheet.row());
  write_totals(sheet, sum, lines, rates);
  return subtotal;
}

void write_costs(lxw_workbook* book, const XlsxFormats& formats, const Estimate& sum, const std::string& subtotal,
                 const RatesSheet& rates) {
  if (!sum.margin) return;
  XlsxSheet sheet(book, "Costs", formats, {"Cost", "Amount, " + sum.currency, "How it came about"}, {34, 14, 70});
  for (const CostLine& line : sum.margin->costs) {
    const std::string quantity = line.price_line < 0 ? fmt::format("{:.2f}", line.quantity)
                                                     : "Price!" + cell_name(kQuantity, line.price_line + 1);
    sheet.text(0, line.what);
    sheet.formula(1, fmt::format("=ROUND({}*{},2)", quantity, rates.cell(line.rate)), money(line.cents),
                  sheet.formats().money);
    sheet.text(2, line.formula);
    sheet.next();
  }
  const int last = sheet.row() - 1;
  const auto total = [&](const char* name, const std::string& formula, std::int64_t cents) {
    sheet.bold(0, name);
    sheet.formula(1, formula, money(cents), sheet.formats().bold_money);
    sheet.next();
  };
  const int cost = sheet.row();
  total("Cost", fmt::format("=SUM({}:{})", cell_name(1, 1), cell_name(1, last)), sum.margin->cost_cents);
  total("Margin", fmt::format("={}-{}", subtotal, cell_name(1, cost)), sum.margin->margin_cents);
  sheet.bold(0, "Hours on site");
  sheet.number(1, sum.crew_h);
  sheet.next();
  total("Left over for each hour on site",
        fmt::format("=ROUND({}/{},2)", cell_name(1, cost + 1), cell_name(1, cost + 2)),
        sum.margin->per_crew_hour_cents);
}

void write_plan(lxw_workbook* book, const XlsxFormats& formats, const Estimate& sum) {
  XlsxSheet sheet(book, "Crew plan", formats, {"Day", "Task", "From, h", "To, h"}, {8, 20, 10, 10});
  for (const TaskSpan& span : sum.plan.spans) {
    sheet.number(0, span.day);
    sheet.text(1, std::string(word(span.task)));
    sheet.number(2, span.from_h);
    sheet.number(3, span.to_h);
    sheet.next();
  }
}

void write_notes(lxw_workbook* book, const XlsxFormats& formats, const Estimate& sum) {
  XlsxSheet sheet(book, "Notes", formats, {"Notes"}, {120});
  for (const std::string& note : sum.notes) {
    sheet.text(0, note);
    sheet.next();
  }
}

/// A name in the temporary folder that nobody else has; gone when it goes out of scope.
class TemporaryFile {
 public:
  TemporaryFile() : path_((std::filesystem::temp_directory_path() / "lotwear-XXXXXX").string()) {
    const int file = ::mkstemp(path_.data());
    if (file < 0) throw Failure(path_ + ": cannot be made; check that the temporary folder is writable and has room");
    ::close(file);
  }
  ~TemporaryFile() { ::unlink(path_.c_str()); }
  TemporaryFile(const TemporaryFile&) = delete;
  TemporaryFile& operator=(const TemporaryFile&) = delete;
  const std::string& path() const { return path_; }

 private:
  std::string path_;
};

/// Midnight of "2026-04-11..." in UTC; the day of the first survey format where there is none, never now.
std::time_t time_of(const std::string& date) {
  std::tm day{};
  day.tm_year = 126, day.tm_mon = 0, day.tm_mday = 1;
  int year = 0, month = 0, of_month = 0;
  if (std::sscanf(date.c_str(), "%4d-%2d-%2d", &year, &month, &of_month) == 3 && year > 1970 && month >= 1 &&
      month <= 12) {
    day.tm_year = year - 1900, day.tm_mon = month - 1, day.tm_mday = of_month;
  }
  return ::timegm(&day);
}

}  // namespace

std::string estimate_xlsx(const Estimate& sum, const Rates& rates, const std::string& date, Copy copy) {
  const TemporaryFile file;
  lxw_workbook* const book = workbook_new(file.path().c_str());
  require(book != nullptr, "a workbook can be begun");
  lxw_doc_properties properties{};
  std::string title = "Estimate", author = "lotwear";
  properties.title = title.data(), properties.author = author.data();
  properties.created = time_of(date);
  workbook_set_properties(book, &properties);
  const XlsxFormats formats = add_formats(book);
  const InUnits units = in_units(sum.units);
  // The price is what people open the file for, so it is written last and shown first.
  std::unique_ptr<RatesSheet> rates_sheet;
  if (copy == Copy::contractor) {
    rates_sheet = std::make_unique<RatesSheet>(book, formats, sum, rates);
  }
  write_quantities(book, formats, sum, units, rates_sheet.get());
  const std::string subtotal = write_prices(book, formats, sum, units, rates_sheet.get());
  worksheet_activate(workbook_get_worksheet_by_name(book, "Price"));
  if (copy == Copy::contractor) write_costs(book, formats, sum, subtotal, *rates_sheet);
  write_plan(book, formats, sum);
  write_notes(book, formats, sum);
  const lxw_error error = workbook_close(book);
  if (error != LXW_NO_ERROR) throw Failure(fmt::format("estimate.xlsx cannot be made ({})", lxw_strerror(error)));
  return read_file(file.path());
}

}  // namespace lotwear
