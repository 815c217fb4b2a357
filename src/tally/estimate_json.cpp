#include <nlohmann/json.hpp>

#include "survey/text_json.hpp"
#include "tally/shown.hpp"
#include "tally/tally.hpp"

namespace lotwear {

namespace {

using nlohmann::ordered_json;

void add(ordered_json& out, const std::vector<ShownNumber>& numbers) {
  for (const ShownNumber& number : numbers)
    out[std::string(number.name)] = number.value;
}

ordered_json json_of(const QuantityLine& line, Units units) {
  ordered_json out;
  out["kind"] = word(line.kind);
  out["colour"] = word(line.colour);
  out["surface"] = word(line.surface);
  out["action"] = word(line.action);
  out["count"] = line.count;
  add(out, shown(line, units));
  out["markings"] = line.markings;
  out["without_size"] = line.ids_without_size;
  return out;
}

ordered_json json_of(const PriceLine& line) {
  return {{"what", line.what},
          {"quantity", line.quantity},
          {"unit", line.unit},
          {"unit_price_cents", line.unit_price_cents},
          {"amount_cents", line.amount_cents},
          {"formula", line.formula}};
}

}  // namespace

std::string estimate_text(const Estimate& estimate) {
  ordered_json out;
  out["format"] = "lotwear-estimate";
  out["version"] = 1;
  out["units"] = estimate.units == Units::metric ? "metric" : "us";
  out["rates"] = estimate.rates_name;
  out["currency"] = estimate.currency;
  out["quantities"] = ordered_json::array();
  for (const QuantityLine& line : estimate.quantities)
    out["quantities"].push_back(json_of(line, estimate.units));
  out["paint"] = ordered_json::array();
  for (const PaintLine& line : estimate.paint) {
    ordered_json colour;
    colour["colour"] = word(line.colour);
    add(colour, shown(line, estimate.units));
    out["paint"].push_back(std::move(colour));
  }
  out["hours"] = {{"person_h", to_hundredths(estimate.person_h)},
                  {"crew_h", to_hundredths(estimate.crew_h)},
                  {"drying_h", to_hundredths(estimate.drying_h)}};
  out["prices"] = ordered_json::array();
  for (const PriceLine& line : estimate.prices)
    out["prices"].push_back(json_of(line));
  out["subtotal_cents"] = estimate.subtotal_cents;
  out["tax_cents"] = estimate.tax_cents;
  out["total_cents"] = estimate.total_cents;
  out["notes"] = estimate.notes;
  return readable(out);
}

}  // namespace lotwear
