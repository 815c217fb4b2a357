#include <fmt/format.h>

#include <cmath>
#include <cstdlib>

#include "base/trouble.hpp"
#include "tally/price.hpp"

namespace lotwear {

namespace {

/// What a material cost before its mark-up.
const Price& cost_price(const PriceLine& line, const Rates& rates) {
  for (const auto& [colour, price] : rates.paint) {
    if (line.rate == price.source) return price;
  }
  for (const std::optional<Price>* price : {&rates.beads, &rates.primer_price, &rates.disposal}) {
    if (*price && line.rate == (*price)->source) return **price;
  }
  throw Broken("every material has a price in the rates");
}

void add_cost(Margin& margin, CostLine line) {
  if (line.cents == 0) return;
  margin.cost_cents += line.cents;
  margin.costs.push_back(std::move(line));
}

void add_crew_costs(Margin& margin, const Estimate& sum, const Rates& rates) {
  const Costs& costs = *rates.costs;
  const auto hours = [](double value) { return static_cast<double>(whole_hundredths(value, "hours")) / 100; };
  const double people_h = hours(sum.crew_h * rates.crew.people), site_h = hours(sum.crew_h);
  const auto by_hour = [&](std::string what, double of, std::int64_t cents, const char* field,
                           const std::string& more) {
    const std::string formula =
        fmt::format("{:.2f} h x {} {} ({}){}", of, money_text(cents), rates.currency, field, more);
    add_cost(margin, {std::move(what), formula, cents_for(std::llround(of * 100), cents, field), of, field});
  };
  by_hour("Crew", people_h, costs.person_hour_cents, "costs.person",
          fmt::format(", {} on site the whole time, waiting included", rates.crew.people));
  by_hour("Van, machines, insurance", site_h, costs.site_hour_cents, "costs.site", "");
  add_cost(margin, {"Getting there and back", "once a job (costs.mobilisation)", costs.mobilisation_cents, 1,
                    "costs.mobilisation"});
}

void add_costs(Margin& margin, const Estimate& sum, const Rates& rates) {
  add_crew_costs(margin, sum, rates);
  for (std::size_t i = 0; i < sum.prices.size(); ++i) {
    const PriceLine& line = sum.prices[i];
    const auto add = [&](std::int64_t cents, const std::string& field) {
      const std::string formula =
          fmt::format("{:.2f} {} x {} {} ({})", line.quantity, line.unit, money_text(cents), rates.currency, field);
      add_cost(margin, {line.what, formula, cents_for(std::llround(line.quantity * 100), cents, line.what),
                        line.quantity, field, static_cast<int>(i)});
    };
    if (line.of == PriceOf::material) {
      const Price& price = cost_price(line, rates);
      add(price.cents, price.source);
    }
    if (line.of != PriceOf::extra) continue;
    for (const Extra& extra : rates.extras) {
      if (extra.price.source == line.rate && extra.cost_cents) add(*extra.cost_cents, "extras." + extra.what + ".cost");
    }
  }
}

/// a / b in ten-thousandths, half away from zero; b more than zero, both far below what overflows (money.cpp).
std::int64_t divided(std::int64_t a, std::int64_t b) {
  const std::int64_t size = (std::abs(a) * 10000 + b / 2) / b;
  return a < 0 ? -size : size;
}

}  // namespace

std::optional<Margin> margin_of(const Estimate& sum, const Rates& rates) {
  if (!rates.costs || sum.prices.empty()) return std::nullopt;
  Margin margin;
  add_costs(margin, sum, rates);
  margin.margin_cents = sum.subtotal_cents - margin.cost_cents;
  if (sum.subtotal_cents > 0) margin.margin_hundredths_of_percent = divided(margin.margin_cents, sum.subtotal_cents);
  const std::int64_t hundredths_of_hour = whole_hundredths(sum.crew_h, "hours");
  if (hundredths_of_hour > 0) margin.per_crew_hour_cents = divided(margin.margin_cents, hundredths_of_hour * 100);
  return margin;
}

}  // namespace lotwear
