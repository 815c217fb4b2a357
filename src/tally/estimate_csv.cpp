#include <fmt/format.h>

#include "tally/shown.hpp"
#include "tally/tally.hpp"

namespace lotwear {

namespace {

using Row = std::vector<std::string>;

/// Text that a spreadsheet would run as a formula becomes plain text; RFC 4180 quotes.
std::string text_cell(std::string text) {
  constexpr std::string_view kStartsFormula = "=+-@\t\r\n";
  if (!text.empty() && kStartsFormula.find(text.front()) != std::string_view::npos) text.insert(text.begin(), '\'');
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string number_cell(double value) { return fmt::format("{:.2f}", value); }

/// Every row has as many cells as the first, as RFC 4180 asks.
class Table {
 public:
  explicit Table(Row names) : width_(names.size()) { add(std::move(names)); }
  void add(Row cells) {
    cells.resize(width_);
    text_ += fmt::format("{}\r\n", fmt::join(cells, ","));
  }
  const std::string& text() const { return text_; }

 private:
  std::size_t width_;
  std::string text_;
};

constexpr std::size_t kBeforeNumbers = 7;  // part, what, kind, colour, surface, action, count

Row price_row(const std::string& part, const std::string& what, std::size_t numbers, Row rest) {
  Row cells = {part, text_cell(what)};
  cells.resize(kBeforeNumbers + numbers);
  cells.insert(cells.end(), std::make_move_iterator(rest.begin()), std::make_move_iterator(rest.end()));
  return cells;
}

}  // namespace

std::string estimate_csv(const Estimate& estimate, Copy copy) {
  Row names = {"part", "what", "kind", "colour", "surface", "action", "count"};
  for (const ShownNumber& number : shown(QuantityLine{}, estimate.units))
    names.emplace_back(number.name);
  const std::size_t numbers = names.size() - kBeforeNumbers;
  for (const char* name : {"quantity", "unit", "unit_price", "amount", "currency", "from", "without_size"})
    names.emplace_back(name);
  Table table(std::move(names));

  for (const QuantityLine& line : estimate.quantities) {
    Row cells = {"quantity",
                 "",
                 std::string(word(line.kind)),
                 std::string(word(line.colour)),
                 std::string(word(line.surface)),
                 std::string(word(line.action)),
                 std::to_string(line.count)};
    for (const ShownNumber& number : shown(line, estimate.units))
      cells.push_back(number_cell(number.value));
    cells.resize(cells.size() + 5);
    cells.push_back(text_cell(fmt::format("{}", fmt::join(line.markings, " "))));
    cells.push_back(text_cell(fmt::format("{}", fmt::join(line.ids_without_size, " "))));
    table.add(std::move(cells));
  }
  for (const PriceLine& line : estimate.prices) {
    table.add(price_row(
        "price", line.what, numbers,
        {number_cell(line.quantity), text_cell(line.unit), money_text(line.unit_price_cents),
         money_text(line.amount_cents), estimate.currency, text_cell(copy == Copy::owner ? "" : line.formula)}));
  }
  const std::vector<std::pair<const char*, std::int64_t>> totals = {
      {"subtotal", estimate.subtotal_cents}, {"tax", estimate.tax_cents}, {"total", estimate.total_cents}};
  for (const auto& [name, cents] : totals) {
    table.add(price_row(name, "", numbers, {"", "", "", money_text(cents), estimate.currency}));
  }
  if (copy == Copy::contractor && estimate.margin) {
    for (const CostLine& line : estimate.margin->costs) {
      table.add(price_row("cost", line.what, numbers,
                          {"", "", "", money_text(line.cents), estimate.currency, text_cell(line.formula)}));
    }
    table.add(
        price_row("margin", "", numbers, {"", "", "", money_text(estimate.margin->margin_cents), estimate.currency}));
  }
  for (const std::string& note : estimate.notes)
    table.add({"note", text_cell(note)});
  return table.text();
}

}  // namespace lotwear
