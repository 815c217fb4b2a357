#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include "base/trouble.hpp"
#include "tally/quantities.hpp"
#include "tally/shown.hpp"
#include "tally/tally.hpp"

namespace lotwear {

namespace {

constexpr std::int64_t kBeyondAnyJob = 1'000'000'000'000'000;  // cents; keeps every sum far from overflow

/// a x b / by, half away from zero, exactly; all at least zero. Throws Failure when the result is beyond any job.
std::int64_t multiplied(std::int64_t a, std::int64_t b, std::int64_t by, const std::string& what) {
  const bool overflows = a != 0 && b > (std::numeric_limits<std::int64_t>::max() - by) / a;
  if (overflows || (a * b + by / 2) / by > kBeyondAnyJob) {
    throw Failure(fmt::format("{}: the price is beyond any job; check the sizes in the survey and the rates", what));
  }
  return (a * b + by / 2) / by;
}

std::int64_t whole_hundredths(double value, const std::string& what) {
  constexpr double kMost = 1e15;
  if (!(value >= 0 && value < kMost)) {
    throw Failure(fmt::format("{}: the quantity is beyond any job; check the sizes in the survey", what));
  }
  return std::llround(value * 100);
}

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
  const Names names = trade_name(line.kind);
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
  line.unit_price_cents = price.cents;
  line.amount_cents = multiplied(hundredths_of_unit, price.cents, 100, what);
  line.formula = fmt::format("{:.2f} {} x {} {} ({}); {}", line.quantity, line.unit, money_text(price.cents), currency,
                             price.source, from);
  line.what = std::move(what);
  return line;
}

PriceLine lump_sum(std::string what, std::int64_t cents, std::string formula) {
  return {std::move(what), 1, "job", cents, cents, std::move(formula)};
}

/// Repainting or grinding off, as one task of a quantity line.
struct Task {
  std::string_view verb;  ///< beginning of the line on paper
  std::string_view rates_field;
  const std::map<std::string, Price>& prices;
  const std::map<std::string, Price>& prices_without_size;
  double area_m2 = 0, hours = 0;
};

double measured(const QuantityLine& line, Measure of, const Task& task) {
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

void add_task(Estimate& sum, const QuantityLine& line, const Task& task, const Rates& rates) {
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

void price_work(Estimate& sum, const Rates& rates) {
  for (const QuantityLine& line : sum.quantities) {
    if (line.action == Action::no_action) continue;
    if (line.action == Action::grind_and_repaint) {
      add_task(sum, line,
               {"Grind off", "prices.grind", rates.grind, rates.grind_without_size, line.grind_m2, line.grind_h},
               rates);
    }
    const double hours = line.clean_h + line.mask_h + line.paint_h;
    add_task(sum, line, {"Repaint", "prices.repaint", rates.repaint, rates.repaint_without_size, line.area_m2, hours},
             rates);
  }
}

/// Cents of materials.
std::int64_t price_materials(Estimate& sum, const Rates& rates) {
  std::int64_t cents = 0;
  double beads_kg = 0;
  const auto add = [&](PriceLine line) {
    cents += line.amount_cents;
    sum.prices.push_back(std::move(line));
  };
  for (const PaintLine& paint : sum.paint) {
    beads_kg += paint.beads_kg;
    const auto listed_colour = rates.paint.find(std::string(word(paint.colour)));
    const Price& price = listed_colour != rates.paint.end() ? listed_colour->second : rates.paint.at("other");
    const std::string name = paint.colour == Colour::other ? "Paint" : fmt::format("Paint, {}", word(paint.colour));
    add(price_line(name, paint.paint_l, price, rates.currency, "all markings of this colour, waste included"));
  }
  if (rates.beads && beads_kg > 0) {
    add(price_line("Glass beads", beads_kg, *rates.beads, rates.currency, "by the paint used (paint.beads)"));
  }
  return cents;
}

std::int64_t subtotal(const Estimate& sum) {
  std::int64_t cents = 0;
  for (const PriceLine& line : sum.prices)
    cents += line.amount_cents;
  return cents;
}

void price_job(Estimate& sum, const Rates& rates) {
  if (rates.mobilisation_cents > 0) {
    sum.prices.push_back(lump_sum("Mobilisation", rates.mobilisation_cents, "once a job (job.mobilisation)"));
  }
  const std::int64_t missing = rates.minimum_cents - subtotal(sum);
  if (missing > 0) {
    sum.prices.push_back(
        lump_sum("Minimum call-out", missing,
                 fmt::format("up to {} {} (job.minimum)", money_text(rates.minimum_cents), rates.currency)));
  }
}

std::vector<PaintLine> paint_by_colour(const std::vector<QuantityLine>& lines) {
  std::map<Colour, PaintLine> colours;
  for (const QuantityLine& line : lines) {
    if (line.paint_l <= 0) continue;
    PaintLine& paint = colours[line.colour];
    paint.colour = line.colour;
    paint.paint_l += line.paint_l;
    paint.beads_kg += line.beads_kg;
  }
  std::vector<PaintLine> paint;
  for (const auto& [colour, line] : colours)
    paint.push_back(line);
  return paint;
}

void add_hours(Estimate& sum, const Rates& rates) {
  for (const QuantityLine& line : sum.quantities)
    sum.person_h += line.clean_h + line.mask_h + line.grind_h + line.paint_h;
  sum.crew_h = rates.set_up_h + sum.person_h / rates.people;
  sum.drying_h = rates.coats * rates.drying_h;
}

std::string thousandths_of_an_inch(double metres) { return fmt::format("{:.3g} mil", metres / kMetresPerMil); }
std::string millimetres(double metres) { return fmt::format("{:.3g} mm", metres * 1000); }

std::vector<std::string> work_notes(const Estimate& sum, const Rates& rates) {
  const bool us = sum.units == Units::us_customary;
  std::vector<std::string> notes;
  notes.push_back(fmt::format("Rates used: {}.", rates.name));
  notes.push_back(fmt::format("Paint: area x {} of wet film x {} {}, and {:g} % waste.",
                              us ? thousandths_of_an_inch(rates.wet_film_m) : millimetres(rates.wet_film_m),
                              rates.coats, rates.coats == 1 ? "coat" : "coats", percent(rates.waste)));
  const bool grinds = std::any_of(sum.quantities.begin(), sum.quantities.end(),
                                  [](const QuantityLine& line) { return line.action == Action::grind_and_repaint; });
  if (grinds) {
    const double margin = rates.grinding.margin_m;
    notes.push_back(fmt::format("Grinding: {}, {} {}, the marking and {} around it.", rates.grinding.method,
                                rates.grinding.passes, rates.grinding.passes == 1 ? "pass" : "passes",
                                us ? fmt::format("{:.3g} in", margin / kMetresPerInch) : millimetres(margin)));
    notes.emplace_back(
        "Grinding makes silica dust and old yellow paint can hold lead and chromium: follow local codes and licensed "
        "practice.");
  }
  notes.push_back(
      fmt::format("Hours on site: {:g} min of set-up, and the tasks shared evenly by {} {}; drying comes on top.",
                  rates.set_up_h * 60, rates.people, rates.people == 1 ? "person" : "people"));
  return notes;
}

}  // namespace

std::string money_text(std::int64_t cents) {
  return fmt::format("{}{}.{:02}", cents < 0 ? "-" : "", std::abs(cents) / 100, std::abs(cents) % 100);
}

Estimate estimate(const Survey& survey, const Rates& rates, Units units) {
  Quantities quantities = add_up(survey, rates);
  Estimate sum;
  sum.units = units;
  sum.rates_name = rates.name;
  sum.currency = rates.currency;
  sum.quantities = std::move(quantities.lines);
  sum.paint = paint_by_colour(sum.quantities);
  const bool any_work = std::any_of(sum.quantities.begin(), sum.quantities.end(),
                                    [](const QuantityLine& line) { return line.action != Action::no_action; });
  if (any_work) {
    sum.notes = work_notes(sum, rates);
    add_hours(sum, rates);
    price_work(sum, rates);
    const std::int64_t materials = price_materials(sum, rates);
    price_job(sum, rates);
    sum.subtotal_cents = subtotal(sum);
    const std::int64_t taxed = rates.tax_on == TaxOn::materials ? materials : sum.subtotal_cents;
    constexpr std::int64_t kHundredthsOfPercent = 10000;
    sum.tax_cents = multiplied(taxed, rates.tax_hundredths_of_percent, kHundredthsOfPercent, "tax");
    sum.total_cents = sum.subtotal_cents + sum.tax_cents;
    sum.notes.emplace_back(
        "Quantities are rounded to hundredths and each line to the cent, halves up; the total adds the rounded lines.");
  } else {
    sum.notes.emplace_back("Nothing in this survey needs work, so there is nothing to price.");
  }
  std::vector<std::string> without_size;
  for (const QuantityLine& line : sum.quantities) {
    without_size.insert(without_size.end(), line.ids_without_size.begin(), line.ids_without_size.end());
  }
  if (!without_size.empty()) {
    sum.notes.push_back(
        fmt::format("Counted without sizes, because their photos have no scale: {}. Lengths, areas, paint and hours "
                    "lack them; lay the scale sheet beside them and photograph them again.",
                    listed(without_size)));
  }
  if (!quantities.to_review.empty()) {
    sum.notes.push_back(fmt::format("Look at these before the price stands; their photos leave the action open: {}.",
                                    listed(quantities.to_review)));
  }
  sum.notes.insert(sum.notes.end(), quantities.notes.begin(), quantities.notes.end());
  return sum;
}

}  // namespace lotwear
