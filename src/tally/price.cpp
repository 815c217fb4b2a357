#include "tally/price.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

std::string listed(const std::vector<std::string>& ids) { return fmt::format("{}", fmt::join(ids, ", ")); }

struct Names {
  std::string_view one, many;
};

Names trade_name(Kind kind) {
  constexpr std::array<Names, kKindWords.size()> kNames = {{{"line", "lines"},
                                                            {"stop line", "stop lines"},
                                                            {"crosswalk", "crosswalks"},
                                                            {"straight arrow", "straight arrows"},
                                                            {"left arrow", "left arrows"},
                                                            {"right arrow", "right arrows"},
                                                            {"straight and left arrow", "straight and left arrows"},
                                                            {"straight and right arrow", "straight and right arrows"},
                                                            {"left and right arrow", "left and right arrows"},
                                                            {"accessible symbol", "accessible symbols"},
                                                            {"hatched area", "hatched areas"},
                                                            {"legend", "legends"},
                                                            {"yield line", "yield lines"},
                                                            {"curb", "curbs"},
                                                            {"other marking", "other markings"}}};
  return kNames.at(static_cast<std::size_t>(kind));
}

/// "3 white stop lines on asphalt"
std::string markings_named(const QuantityLine& line, std::size_t count) {
  const Names names = line.fields ? Names{"field under a marking", "fields under markings"} : trade_name(line.kind);
  std::string text = fmt::format("{} ", count);
  if (line.colour != Colour::other) text += fmt::format("{} ", word(line.colour));
  text += count == 1 ? names.one : names.many;
  if (line.surface != Surface::other) text += fmt::format(" on {}", word(line.surface));
  return text;
}

PriceLine price_line(std::string what, double quantity, const Price& price, const std::string& currency,
                     const std::string& from) {
  PriceLine line;
  const std::int64_t hundredths_of_unit = whole_hundredths(quantity / price.per.size, what);
  line.quantity = static_cast<double>(hundredths_of_unit) / 100;
  line.unit = price.per.name;
  line.unit_size = price.per.size;
  line.unit_price_cents = price.cents;
  line.amount_cents = cents_for(hundredths_of_unit, price.cents, what);
  line.formula = fmt::format("{:.2f} {} x {} {} ({}); {}", line.quantity, line.unit, money_text(price.cents), currency,
                             price.source, from);
  line.rate = price.source;
  line.what = std::move(what);
  return line;
}

PriceLine lump_sum(std::string what, std::int64_t cents, std::string formula, std::string rate, PriceOf of) {
  PriceLine line;
  line.what = std::move(what);
  line.quantity = 1, line.unit = "job";
  line.unit_price_cents = line.amount_cents = cents;
  line.formula = std::move(formula);
  line.of = of;
  line.rate = std::move(rate);
  return line;
}

/// Repainting or grinding off, as one task of a quantity line.
struct PricedTask {
  std::string_view verb;  ///< beginning of the line on paper
  std::string_view rates_field;
  const std::map<std::string, Price>& prices;
  const std::map<std::string, Price>& prices_without_size;
  double area_m2 = 0, hours = 0;
  bool grinds = false;
};

double measured(const QuantityLine& line, Measure of, const PricedTask& task) {
  switch (of) {
    case Measure::each:
      return line.count;
    case Measure::length:
      return line.length_m;
    case Measure::area:
      return task.area_m2;
    default:
      return task.hours;
  }
}

QuantityOf quantity_of(Measure of, const PricedTask& task) {
  switch (of) {
    case Measure::each:
      return QuantityOf::count;
    case Measure::length:
      return QuantityOf::length;
    case Measure::area:
      return task.grinds ? QuantityOf::ground : QuantityOf::area;
    default:
      return task.grinds ? QuantityOf::grind_hours : QuantityOf::repaint_hours;
  }
}

void add_task(Estimate& sum, std::size_t at, const PricedTask& task, const Rates& rates) {
  const QuantityLine& line = sum.quantities[at];
  const std::optional<Price> price = for_kind(task.prices, line.kind);
  require(price.has_value(), "the rates hold a price for every kind");
  const bool each = price->per.of == Measure::each;
  const std::size_t with_size = line.markings.size() - (each ? 0 : line.ids_without_size.size());
  if (with_size > 0) {
    std::vector<std::string> ids;
    std::copy_if(line.markings.begin(), line.markings.end(), std::back_inserter(ids), [&](const std::string& id) {
      return each ||
             std::find(line.ids_without_size.begin(), line.ids_without_size.end(), id) == line.ids_without_size.end();
    });
    sum.prices.push_back(price_line(fmt::format("{} {}", task.verb, markings_named(line, with_size)),
                                    measured(line, price->per.of, task), *price, rates.currency, listed(ids)));
    sum.prices.back().quantity_line = static_cast<int>(at);
    sum.prices.back().quantity_of = quantity_of(price->per.of, task);
  }
  if (each || line.ids_without_size.empty()) return;
  const std::string some = fmt::format("{} {}", task.verb, markings_named(line, line.ids_without_size.size()));
  if (const auto each_price = for_kind(task.prices_without_size, line.kind)) {
    sum.prices.push_back(price_line(some + ", size not known", static_cast<double>(line.ids_without_size.size()),
                                    *each_price, rates.currency, listed(line.ids_without_size)));
  } else {
    sum.notes.push_back(fmt::format("Not priced: {}: {}; the size is not known and {}_without_size has no price for it",
                                    some, listed(line.ids_without_size), task.rates_field));
  }
}

}  // namespace

void price_work(Estimate& sum, const Rates& rates) {
  for (std::size_t at = 0; at < sum.quantities.size(); ++at) {
    const QuantityLine& line = sum.quantities[at];
    if (line.action == Action::no_action) continue;
    if (line.action == Action::grind_and_repaint) {
      add_task(sum, at,
               {"Grind off", "prices.grind", rates.grind, rates.grind_without_size, line.grind_m2,
                line.grind_h + line.collect_h, true},
               rates);
    }
    const double hours = line.clean_h + line.dry_h + line.mask_h + line.prime_h + line.paint_h;
    add_task(sum, at, {"Repaint", "prices.repaint", rates.repaint, rates.repaint_without_size, line.area_m2, hours},
             rates);
  }
}

namespace {

std::int64_t sum_of(const Estimate& sum) {
  std::int64_t cents = 0;
  for (const PriceLine& line : sum.prices)
    cents += line.amount_cents;
  return cents;
}

std::int64_t sum_of(const Estimate& sum, PriceOf of) {
  std::int64_t cents = 0;
  for (const PriceLine& line : sum.prices)
    cents += line.of == of ? line.amount_cents : 0;
  return cents;
}

void add_material(Estimate& sum, std::string what, QuantityOf of, double quantity, const Price& cost,
                  const Rates& rates, const std::string& from) {
  if (quantity <= 0) return;
  const Price price{marked_up(cost.cents, rates), cost.per, cost.source};
  const std::int64_t markup = rates.markup_hundredths_of_percent;
  std::string told = from;
  if (markup > 0) {
    told +=
        fmt::format("; {} {} and {} on it (prices.markup)", money_text(cost.cents), rates.currency, share_text(markup));
  }
  sum.prices.push_back(price_line(std::move(what), quantity, price, rates.currency, told));
  sum.prices.back().of = PriceOf::material;
  sum.prices.back().quantity_of = of;
  sum.prices.back().hundredths_of_percent = markup;
}

const Price& paint_price(Colour colour, const Rates& rates) {
  const auto listed_colour = rates.paint.find(std::string(word(colour)));
  return listed_colour != rates.paint.end() ? listed_colour->second : rates.paint.at("other");
}

/// How many of an extra the job takes: hours or days on site, markings worked on, or one.
double extra_quantity(const Extra& extra, const Estimate& sum) {
  if (extra.price.per.of == Measure::time) {
    return extra.price.per.size >= 24 ? sum.plan.days * extra.price.per.size : sum.crew_h;
  }
  if (extra.price.per.name == "job") return 1;
  double count = 0;
  for (const QuantityLine& line : sum.quantities) {
    const bool counts =
        extra.only_grinding ? line.action == Action::grind_and_repaint : line.action != Action::no_action;
    count += counts ? line.count : 0;
  }
  return count;
}

bool grinds(const Estimate& sum) {
  return std::any_of(sum.quantities.begin(), sum.quantities.end(),
                     [](const QuantityLine& line) { return line.action == Action::grind_and_repaint; });
}

void price_extras(Estimate& sum, const Rates& rates) {
  for (const Extra& extra : rates.extras) {
    if (extra.only_grinding && !grinds(sum)) continue;
    PriceLine line = price_line(extra.what, extra_quantity(extra, sum), extra.price, rates.currency,
                                extra.only_grinding ? "where something is ground" : "always");
    line.of = PriceOf::extra;
    sum.prices.push_back(std::move(line));
  }
}

void add_share(Estimate& sum, PriceOf of, const std::string& what, std::int64_t base, std::int64_t share,
               const std::string& field, const std::string& base_words) {
  if (share == 0) return;
  const std::int64_t cents = share_of(base, share, what) * (of == PriceOf::discount ? -1 : 1);
  const std::string formula =
      fmt::format("{} of {} {} ({}), {}", share_text(share), money_text(base), sum.currency, field, base_words);
  PriceLine line = lump_sum(fmt::format("{}, {}", what, share_text(share)), cents, formula, field, of);
  line.hundredths_of_percent = share;
  sum.prices.push_back(std::move(line));
}

}  // namespace

std::int64_t marked_up(std::int64_t cents, const Rates& rates) {
  return cents + share_of(cents, rates.markup_hundredths_of_percent, "prices.markup");
}

void price_materials(Estimate& sum, const Rates& rates) {
  double beads_kg = 0;
  for (const PaintLine& paint : sum.paint) {
    beads_kg += paint.beads_kg;
    const std::string name = paint.colour == Colour::other ? "Paint" : fmt::format("Paint, {}", word(paint.colour));
    add_material(sum, name, QuantityOf::paint, paint.paint_l, paint_price(paint.colour, rates), rates,
                 "all markings of this colour, waste included");
    sum.prices.back().colour = paint.colour;
  }
  if (rates.beads)
    add_material(sum, "Glass beads", QuantityOf::beads, beads_kg, *rates.beads, rates,
                 "by the paint used (paint.beads)");
  if (rates.primer_price)
    add_material(sum, "Primer", QuantityOf::primer, sum.primer_l, *rates.primer_price, rates,
                 "ground markings, waste included (paint.primer)");
  if (rates.disposal)
    add_material(sum, "Disposal of dust and chips", QuantityOf::debris, sum.debris_l, *rates.disposal, rates,
                 "area ground x passes x depth (preparation.grinding)");
}

void price_job(Estimate& sum, const Rates& rates, const EstimateSettings& settings) {
  price_extras(sum, rates);
  if (rates.mobilisation_cents > 0) {
    sum.prices.push_back(lump_sum("Mobilisation", rates.mobilisation_cents, "once a job (job.mobilisation)",
                                  "job.mobilisation", PriceOf::journey));
  }
  const std::int64_t labour = sum_of(sum, PriceOf::work);
  if (settings.night)
    add_share(sum, PriceOf::surcharge, "Night work", labour, rates.night_hundredths_of_percent, "job.night",
              "on grinding and repainting");
  if (settings.weekend)
    add_share(sum, PriceOf::surcharge, "Weekend work", labour, rates.weekend_hundredths_of_percent, "job.weekend",
              "on grinding and repainting");
  add_share(sum, PriceOf::discount, "Discount", sum_of(sum), rates.discount_hundredths_of_percent, "job.discount",
            "off everything above");
  sum.minimum_cents = rates.minimum_cents;
  const std::int64_t missing = rates.minimum_cents - sum_of(sum);
  if (missing > 0) {
    sum.prices.push_back(
        lump_sum("Minimum call-out", missing,
                 fmt::format("up to {} {} (job.minimum)", money_text(rates.minimum_cents), rates.currency),
                 "job.minimum", PriceOf::minimum));
  }
  sum.subtotal_cents = sum_of(sum);
  sum.tax_on = rates.tax_on;
  sum.tax_hundredths_of_percent = rates.tax_hundredths_of_percent;
  const std::int64_t taxed = rates.tax_on == TaxOn::materials ? sum_of(sum, PriceOf::material) : sum.subtotal_cents;
  sum.tax_cents = share_of(taxed, rates.tax_hundredths_of_percent, "tax");
  sum.total_cents = sum.subtotal_cents + sum.tax_cents;
}

}  // namespace lotwear
