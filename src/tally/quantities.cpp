#include "tally/quantities.hpp"

#include <map>
#include <tuple>

#include "base/trouble.hpp"
#include "tally/repeats.hpp"

namespace lotwear {

namespace {

/// One person's hours to paint a marking, all coats.
double painting_hours(Kind kind, const Size& size, const Rates& rates) {
  const std::optional<Pace> pace = for_kind(rates.painting, kind);
  require(pace.has_value(), "the rates hold a painting pace for every kind");
  const double amount = pace->of == Measure::each ? 1 : pace->of == Measure::length ? size.length_m : size.area_m2;
  return rates.coats * amount / pace->per_hour;
}

void add_work(QuantityLine& line, const Size& size, const Rates& rates) {
  const double paint_l = wet_paint_l(size.area_m2, rates.wet_film_m) * rates.coats * (1 + rates.waste.value);
  line.paint_l += paint_l;
  line.beads_kg += paint_l * rates.beads_kg_per_l.value_or(0);
  line.paint_h += painting_hours(line.kind, size, rates);
  double cleaned_m2 = size.area_m2;
  if (line.action == Action::grind_and_repaint) {
    const double grind_m2 = size.area_m2 + size.perimeter_m * rates.grinding.margin_m;
    line.grind_m2 += grind_m2;
    line.grind_h += grind_m2 * rates.grinding.passes / rates.grinding.m2_per_h;
    cleaned_m2 = grind_m2;
  }
  line.clean_h += cleaned_m2 / rates.cleaning_m2_per_h;
  if (rates.masked.contains(line.kind)) {
    line.masking_m += size.perimeter_m;
    line.mask_h += size.perimeter_m / rates.masking_m_per_h;
  }
}

}  // namespace

Quantities add_up(const Survey& survey, const Rates& rates) {
  const Policy policy = policy_of(survey);
  Counted counted = count_once(survey);
  Quantities sums;
  sums.notes = std::move(counted.notes);
  std::map<std::tuple<Kind, Colour, Surface, Action>, QuantityLine> lines;
  for (const std::size_t at : counted.markings) {
    const SurveyMarking& marking = survey.markings[at];
    const Decision decision = decision_of(marking, policy);
    const Kind kind = kind_of(marking);
    const Colour colour = colour_of(marking);
    const Surface surface = marking.condition.surface;
    QuantityLine& line = lines[{kind, colour, surface, decision.action}];
    line.kind = kind, line.colour = colour, line.surface = surface, line.action = decision.action;
    line.markings.push_back(marking.id);
    ++line.count;
    if (decision.needs_review) sums.to_review.push_back(marking.id);

    const std::optional<Size> size = size_of(marking, survey);
    if (!size) {
      ++line.without_size;
      line.ids_without_size.push_back(marking.id);
      continue;
    }
    line.length_m += size->length_m;
    line.area_m2 += size->area_m2;
    line.perimeter_m += size->perimeter_m;
    if (decision.action != Action::no_action) add_work(line, *size, rates);
  }
  for (auto& [key, line] : lines)
    sums.lines.push_back(std::move(line));
  return sums;
}

}  // namespace lotwear
