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

ordered_json json_of(const QuantityLine& line, Units units, Copy copy) {
  ordered_json out;
  out["kind"] = word(line.kind);
  out["colour"] = word(line.colour);
  out["surface"] = word(line.surface);
  out["action"] = word(line.action);
  out["count"] = line.count;
  add(out, shown(line, units));
  out["markings"] = line.markings;
  out["without_size"] = line.ids_without_size;
  if (copy == Copy::owner) return out;
  out["workings"] = ordered_json::array();
  for (const Working& working : line.workings)
    out["workings"].push_back({{"what", working.what}, {"formula", working.formula}, {"rates", working.rates}});
  return out;
}

ordered_json json_of(const PriceLine& line, Copy copy) {
  ordered_json out = {{"of", word(line.of)},
                      {"what", line.what},
                      {"quantity", line.quantity},
                      {"unit", line.unit},
                      {"unit_price_cents", line.unit_price_cents},
                      {"amount_cents", line.amount_cents}};
  if (copy == Copy::owner) return out;
  out["rate"] = line.rate;
  out["formula"] = line.formula;
  return out;
}

ordered_json json_of(const CrewPlan& plan) {
  ordered_json out = {{"people", plan.people},
                      {"days", plan.days},
                      {"on_site_h", to_hundredths(plan.on_site_h)},
                      {"one_person_one_marking_at_a_time_h", to_hundredths(plan.one_by_one_h)},
                      {"bays_closed", plan.bays},
                      {"lanes_closed", plan.lanes},
                      {"weather", plan.weather}};
  out["person_h"] = ordered_json::object();
  for (const auto& [task, hours] : plan.person_h)
    out["person_h"][std::string(word(task))] = to_hundredths(hours);
  out["schedule"] = ordered_json::array();
  for (const TaskSpan& span : plan.spans) {
    out["schedule"].push_back({{"day", span.day},
                               {"task", word(span.task)},
                               {"from_h", to_hundredths(span.from_h)},
                               {"to_h", to_hundredths(span.to_h)}});
  }
  return out;
}

ordered_json json_of(const Margin& margin) {
  ordered_json out;
  out["costs"] = ordered_json::array();
  for (const CostLine& line : margin.costs)
    out["costs"].push_back({{"what", line.what}, {"formula", line.formula}, {"cents", line.cents}});
  out["cost_cents"] = margin.cost_cents;
  out["margin_cents"] = margin.margin_cents;
  out["margin_hundredths_of_percent"] = margin.margin_hundredths_of_percent;
  out["per_crew_hour_cents"] = margin.per_crew_hour_cents;
  return out;
}

ordered_json json_of(const Estimate& option, Copy copy) {
  ordered_json out;
  out["option"] = word(option.option);
  out["markings"] = ordered_json::array();
  for (const QuantityLine& line : option.quantities) {
    if (line.action == Action::no_action) continue;
    for (const std::string& id : line.markings)
      out["markings"].push_back(id);
  }
  out["left_undone"] = ordered_json::array();
  for (const LeftUndone& one : option.left_undone)
    out["left_undone"].push_back({{"marking", one.id}, {"action", word(one.action)}});
  out["crew_h"] = to_hundredths(option.crew_h);
  out["days"] = option.plan.days;
  out["subtotal_cents"] = option.subtotal_cents;
  out["tax_cents"] = option.tax_cents;
  out["total_cents"] = option.total_cents;
  if (copy == Copy::contractor && option.margin) {
    out["cost_cents"] = option.margin->cost_cents;
    out["margin_cents"] = option.margin->margin_cents;
  }
  return out;
}

ordered_json paint_json(const Estimate& estimate) {
  ordered_json paint = ordered_json::array();
  for (const PaintLine& line : estimate.paint) {
    ordered_json colour;
    colour["colour"] = word(line.colour);
    add(colour, shown(line, estimate.units));
    colour["containers"] = line.containers;
    paint.push_back(std::move(colour));
  }
  return paint;
}

}  // namespace

std::string estimate_text(const Estimate& estimate, const std::vector<Estimate>& options, Copy copy) {
  ordered_json out;
  out["format"] = "lotwear-estimate";
  out["version"] = 1;
  out["copy"] = copy == Copy::owner ? "owner" : "contractor";
  out["option"] = word(estimate.option);
  out["units"] = estimate.units == Units::metric ? "metric" : "us";
  out["rates"] = estimate.rates_name;
  out["currency"] = estimate.currency;
  out["quantities"] = ordered_json::array();
  for (const QuantityLine& line : estimate.quantities)
    out["quantities"].push_back(json_of(line, estimate.units, copy));
  out["paint"] = paint_json(estimate);
  out["primer_containers"] = estimate.primer_containers;
  out["hours"] = {{"person_h", to_hundredths(estimate.person_h)},
                  {"crew_h", to_hundredths(estimate.crew_h)},
                  {"drying_h", to_hundredths(estimate.drying_h)}};
  out["crew_plan"] = json_of(estimate.plan);
  out["prices"] = ordered_json::array();
  for (const PriceLine& line : estimate.prices)
    out["prices"].push_back(json_of(line, copy));
  out["subtotal_cents"] = estimate.subtotal_cents;
  out["tax_cents"] = estimate.tax_cents;
  out["total_cents"] = estimate.total_cents;
  out["margin"] = nullptr;
  if (copy == Copy::contractor && estimate.margin) out["margin"] = json_of(*estimate.margin);
  out["options"] = ordered_json::array();
  for (const Estimate& option : options)
    out["options"].push_back(json_of(option, copy));
  out["notes"] = estimate.notes;
  return readable(out);
}

}  // namespace lotwear
