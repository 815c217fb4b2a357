#include "tally/work.hpp"

#include <algorithm>

#include "base/trouble.hpp"
#include "survey/field.hpp"
#include "tally/repeats.hpp"

namespace lotwear {

namespace {

constexpr double kLitresPerCubicMetre = 1000;

/// One person's hours to paint a marking, all coats.
double painting_hours(Kind kind, const Size& size, const Rates& rates) {
  const std::optional<Pace> pace = for_kind(rates.painting, kind);
  require(pace.has_value(), "the rates hold a painting pace for every kind");
  const double amount = pace->of == Measure::each ? 1 : pace->of == Measure::length ? size.length_m : size.area_m2;
  return rates.coats * amount / pace->per_hour;
}

void add_grinding(Amounts& amounts, const Size& size, Surface surface, int coats_below, const Rates& rates) {
  const Grinding& grinding = rates.grinding;
  amounts.grind_m2 = size.area_m2 + size.perimeter_m * grinding.margin_m;
  amounts.grind_pass_m2 = amounts.grind_m2 * (grinding.passes + coats_below * grinding.passes_each_older_coat);
  amounts.grind_h = amounts.grind_pass_m2 / grinding.m2_per_h;
  amounts.debris_l = amounts.grind_pass_m2 * grinding.depth_m * kLitresPerCubicMetre;
  if (grinding.collecting_m2_per_h) amounts.collect_h = amounts.grind_m2 / *grinding.collecting_m2_per_h;
  if (!rates.primer || !rates.primer->on.contains(surface)) return;
  amounts.prime_m2 = amounts.grind_m2;
  amounts.primer_l = wet_paint_l(amounts.prime_m2, rates.primer->wet_film_m) * (1 + rates.waste.value);
  amounts.prime_h = amounts.prime_m2 / rates.primer->m2_per_h;
}

Amounts amounts_of(const MarkingWork& marking, const Size& size, int coats_below, const Rates& rates) {
  Amounts amounts;
  amounts.length_m = size.length_m;
  amounts.area_m2 = size.area_m2;
  amounts.perimeter_m = size.perimeter_m;
  if (marking.action == Action::no_action) return amounts;
  amounts.paint_l = wet_paint_l(size.area_m2, rates.wet_film_m) * rates.coats * (1 + rates.waste.value);
  amounts.beads_kg = amounts.paint_l * rates.beads_kg_per_l.value_or(0);
  amounts.paint_h = painting_hours(marking.kind, size, rates);
  if (marking.action == Action::grind_and_repaint) add_grinding(amounts, size, marking.surface, coats_below, rates);
  amounts.clean_m2 = std::max(amounts.grind_m2, size.area_m2);
  amounts.clean_h = amounts.clean_m2 / rates.cleaning_m2_per_h;
  if (rates.surface_drying_m2_per_h) amounts.dry_h = amounts.clean_m2 / *rates.surface_drying_m2_per_h;
  if (rates.masked.contains(marking.kind)) {
    amounts.masking_m = size.perimeter_m;
    amounts.mask_h = size.perimeter_m / rates.masking_m_per_h;
  }
  return amounts;
}

bool covers(BidOption option, const Decision& decision, double consequence, const Rates& rates) {
  if (option == BidOption::full_lot) return true;
  if (option == BidOption::needs_work) return decision.action != Action::no_action;
  return decision.action != Action::no_action && consequence >= rates.safety_from;
}

}  // namespace

int coats_on(const SurveyMarking& marking, const Policy& policy) {
  if (const auto counted = marking.person().coats) return std::max(1, *counted);
  return condition_of(marking).older_coat.value >= policy.grind_older_coat ? 2 : 1;
}

Work work_of(const Survey& survey, const Rates& rates, BidOption option) {
  const Policy policy = policy_of(survey);
  Counted counted = count_once(survey);
  Work work;
  work.notes = std::move(counted.notes);
  for (const std::size_t at : counted.markings) {
    const SurveyMarking& marking = survey.markings[at];
    const Decision decision = decision_of(marking, policy);
    MarkingWork one{marking.id,
                    kind_of(marking),
                    colour_of(marking),
                    condition_of(marking).surface,
                    decision.action,
                    decision.needs_review,
                    marking.person().confirmed.value_or(false),
                    painted_on(marking, survey) != nullptr,
                    size_of(marking, survey),
                    {}};
    if (!covers(option, decision, consequence_of(one.kind, one.colour, policy), rates)) {
      work.left_undone.push_back({one.id, one.kind, decision.action, decision.priority, one.field});
      if (option == BidOption::safety_only || decision.action != Action::no_action) continue;
    }
    if (option == BidOption::full_lot && one.action == Action::no_action) one.action = Action::repaint;
    if (one.size) one.amounts = amounts_of(one, *one.size, coats_on(marking, policy) - 1, rates);
    work.markings.push_back(std::move(one));
  }
  std::stable_sort(work.left_undone.begin(), work.left_undone.end(),
                   [](const LeftUndone& a, const LeftUndone& b) { return a.priority > b.priority; });
  return work;
}

}  // namespace lotwear
