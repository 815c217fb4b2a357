#include "tally/xlsx_rates.hpp"

namespace lotwear {

InUnits in_units(Units units) {
  if (units == Units::metric) return {};
  return {kMetresPerFoot, kSquareMetresPerSquareFoot, kLitresPerGallon, kKilogramsPerPound, "ft", "sq ft", "gal", "lb"};
}

RatesSheet::RatesSheet(lxw_workbook* book, const XlsxFormats& formats, const Estimate& sum, const Rates& rates)
    : sheet_(book, "Rates", formats, {"Field of the rates file", "Value", "Unit"}, {46, 14, 22}) {
  add_work(sum, rates);
  add_prices(sum, rates);
}

void RatesSheet::add(const std::string& field, double value, const std::string& unit) {
  if (cells_.contains(field)) return;
  cells_[field] = "Rates!" + fixed_cell(1, sheet_.row());
  sheet_.text(0, field);
  sheet_.input(1, value);
  sheet_.text(2, unit);
  sheet_.next();
}

std::string RatesSheet::cell(const std::string& field) const {
  const auto at = cells_.find(field);
  return at == cells_.end() ? "" : at->second;
}

void RatesSheet::add_work(const Estimate& sum, const Rates& rates) {
  const InUnits units = in_units(sum.units);
  const bool us = sum.units == Units::us_customary;
  add("paint.wet_film", rates.wet_film_m / (us ? kMetresPerMil : 1e-6), us ? "mil" : "um");
  add("paint.coats", rates.coats, "coats");
  add("paint.waste", rates.waste.value, "share");
  add("preparation.grinding.margin", rates.grinding.margin_m / units.length, units.length_word);
  if (rates.beads_kg_per_l) {
    add("paint.beads", *rates.beads_kg_per_l * units.volume / units.mass, units.mass_word + "/" + units.volume_word);
  }
}

void RatesSheet::add_prices(const Estimate& sum, const Rates& rates) {
  add("prices.markup", share(rates.markup_hundredths_of_percent), "share");
  for (const PriceLine& line : sum.prices) {
    const bool is_share = line.of == PriceOf::surcharge || line.of == PriceOf::discount;
    if (is_share) add(line.rate, share(line.hundredths_of_percent), "share");
    if (line.of == PriceOf::work || line.of == PriceOf::extra || line.of == PriceOf::journey)
      add(line.rate, money(line.unit_price_cents), sum.currency + "/" + line.unit);
  }
  const auto material = [&](const Price& price) {
    add(price.source, money(price.cents), sum.currency + "/" + std::string(price.per.name));
  };
  for (const auto& [colour, price] : rates.paint)
    material(price);
  for (const auto& price : {rates.beads, rates.primer_price, rates.disposal})
    if (price) material(*price);
  add("job.minimum", money(rates.minimum_cents), sum.currency);
  add("job.tax", share(rates.tax_hundredths_of_percent), "share");
  for (const Extra& extra : rates.extras) {
    if (extra.cost_cents)
      add("extras." + extra.what + ".cost", money(*extra.cost_cents),
          sum.currency + "/" + std::string(extra.price.per.name));
  }
  if (!rates.costs) return;
  add("costs.person", money(rates.costs->person_hour_cents), sum.currency + "/h");
  add("costs.site", money(rates.costs->site_hour_cents), sum.currency + "/h");
  add("costs.mobilisation", money(rates.costs->mobilisation_cents), sum.currency);
}

}  // namespace lotwear
