#include <fmt/format.h>

#include <algorithm>

#include "tally/crew_plan.hpp"
#include "tally/price.hpp"
#include "tally/quantities.hpp"
#include "tally/shown.hpp"
#include "tally/tally.hpp"
#include "tally/work.hpp"

namespace lotwear {

namespace {

std::string listed(const std::vector<std::string>& ids) { return fmt::format("{}", fmt::join(ids, ", ")); }

std::string thousandths_of_an_inch(double metres) { return fmt::format("{:.3g} mil", metres / kMetresPerMil); }
std::string millimetres(double metres) { return fmt::format("{:.3g} mm", metres * 1000); }

bool has_action(const Estimate& sum, Action action) {
  return std::any_of(sum.quantities.begin(), sum.quantities.end(),
                     [&](const QuantityLine& line) { return line.action == action; });
}

void add_grinding_notes(std::vector<std::string>& notes, const Estimate& sum, const Rates& rates) {
  const bool us = sum.units == Units::us_customary;
  const Grinding& grinding = rates.grinding;
  std::string passes = fmt::format("{} {}", grinding.passes, grinding.passes == 1 ? "pass" : "passes");
  if (grinding.passes_each_older_coat > 0)
    passes += fmt::format(" and {} more for each older coat", grinding.passes_each_older_coat);
  notes.push_back(
      fmt::format("Grinding: {}, {}, the marking and {} around it.", grinding.method, passes,
                  us ? fmt::format("{:.3g} in", grinding.margin_m / kMetresPerInch) : millimetres(grinding.margin_m)));
  if (sum.primer_l > 0) notes.emplace_back("Ground concrete is primed before it is painted, as the rates ask.");
  notes.emplace_back(
      "Grinding makes silica dust and old yellow paint can hold lead and chromium: follow local codes and licensed "
      "practice.");
}

std::vector<std::string> work_notes(const Estimate& sum, const Rates& rates) {
  const bool us = sum.units == Units::us_customary;
  std::vector<std::string> notes;
  notes.push_back(fmt::format("Rates used: {}.", rates.name));
  notes.push_back(fmt::format("Paint: area x {} of wet film x {} {}, and {:g} % waste.",
                              us ? thousandths_of_an_inch(rates.wet_film_m) : millimetres(rates.wet_film_m),
                              rates.coats, rates.coats == 1 ? "coat" : "coats", percent(rates.waste)));
  if (has_action(sum, Action::grind_and_repaint)) add_grinding_notes(notes, sum, rates);
  notes.push_back(
      fmt::format("Hours on site: by the crew plan for {} {}, {:g} min of set-up and {:g} min of packing up a day, "
                  "drying included.",
                  rates.crew.people, rates.crew.people == 1 ? "person" : "people", rates.crew.set_up_h * 60,
                  rates.crew.pack_up_h * 60));
  return notes;
}

void add_survey_notes(Estimate& sum, const Work& work) {
  std::vector<std::string> without_size, to_review, confirmed;
  for (const QuantityLine& line : sum.quantities)
    without_size.insert(without_size.end(), line.ids_without_size.begin(), line.ids_without_size.end());
  for (const MarkingWork& marking : work.markings) {
    if (marking.needs_review) to_review.push_back(marking.id);
    if (marking.confirmed) confirmed.push_back(marking.id);
  }
  if (!without_size.empty()) {
    sum.notes.push_back(
        fmt::format("Counted without sizes, because their photos have no scale: {}. Lengths, areas, paint and hours "
                    "lack them; lay the scale sheet beside them and photograph them again.",
                    listed(without_size)));
  }
  if (!confirmed.empty()) sum.notes.push_back(fmt::format("Confirmed by a person: {}.", listed(confirmed)));
  if (!to_review.empty()) {
    sum.notes.push_back(fmt::format("Look at these before the price stands; their photos leave the action open: {}.",
                                    listed(to_review)));
  }
  sum.notes.insert(sum.notes.end(), work.notes.begin(), work.notes.end());
}

void add_quantities(Estimate& sum, const Work& work, const Rates& rates) {
  sum.quantities = add_up(work);
  sum.paint = paint_by_colour(sum.quantities, rates);
  for (QuantityLine& line : sum.quantities) {
    line.workings = workings_of(line, rates, sum.units);
    sum.primer_l += line.primer_l;
    sum.debris_l += line.debris_l;
    sum.person_h += line.hours();
  }
  sum.primer_containers = whole_containers(sum.primer_l, rates.containers);
}

}  // namespace

Estimate estimate(const Survey& survey, const Rates& rates, const EstimateSettings& settings) {
  Work work = work_of(survey, rates, settings.option);
  Estimate sum;
  sum.option = settings.option;
  sum.units = settings.units;
  sum.rates_name = rates.name;
  sum.currency = rates.currency;
  sum.left_undone = std::move(work.left_undone);
  add_quantities(sum, work, rates);
  if (has_action(sum, Action::repaint) || has_action(sum, Action::grind_and_repaint)) {
    sum.notes = work_notes(sum, rates);
    sum.plan = crew_plan(work, rates, settings.units);
    sum.crew_h = sum.plan.on_site_h;
    sum.drying_h = rates.coats * rates.drying_h;
    price_work(sum, rates);
    price_materials(sum, rates);
    price_job(sum, rates, settings);
    sum.margin = margin_of(sum, rates);
    sum.notes.emplace_back(
        "Quantities are rounded to hundredths and each line to the cent, halves away from zero; the total adds the "
        "rounded lines.");
  } else {
    sum.notes.emplace_back("Nothing here needs work, so there is nothing to price.");
  }
  add_survey_notes(sum, work);
  return sum;
}

Estimate estimate(const Survey& survey, const Rates& rates, Units units) {
  EstimateSettings settings;
  settings.units = units;
  return estimate(survey, rates, settings);
}

std::vector<Estimate> estimate_options(const Survey& survey, const Rates& rates, EstimateSettings settings) {
  std::vector<Estimate> all;
  for (const BidOption option : kBidOptions) {
    settings.option = option;
    all.push_back(estimate(survey, rates, settings));
  }
  return all;
}

}  // namespace lotwear
