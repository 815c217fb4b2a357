#include "policy/policy.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "policy/tape_pull.hpp"

namespace lotwear {

namespace {

/// A measured share against its threshold.
struct Test {
  bool holds = false;    ///< the value is on the rule's side
  bool settled = false;  ///< so is the whole interval, or none of it
  double chance = 0;     ///< that the true share is on the rule's side
};

enum class Side { at_least, over, below };

Fraction as_printed(Fraction share) { return {std::round(share.value * 1000) / 1000}; }

Interval as_printed(const Interval& seen) {
  return {as_printed(seen.low), as_printed(seen.value), as_printed(seen.high)};
}

/// Chance that the share is above `threshold`: a normal curve with its median at the value and, each side on its own,
/// the 5 % and 95 % points at the ends of the interval.
double chance_above(const Interval& seen, Fraction threshold) {
  constexpr double kSigmasTo95 = 1.6448536269514722;  // 95 % point of the standard normal distribution
  const double away = (seen.value - threshold).value;
  const double side = away >= 0 ? (seen.value - seen.low).value : (seen.high - seen.value).value;
  if (side <= 0) return away >= 0 ? 1.0 : 0.0;
  return 0.5 * std::erfc(-away / (side / kSigmasTo95) / std::sqrt(2.0));
}

Test test(const Interval& measured, Side side, Fraction threshold) {
  const Interval seen = as_printed(measured);
  const auto on_side = [&](Fraction share) {
    if (side == Side::at_least) return share >= threshold;
    return side == Side::over ? share > threshold : share < threshold;
  };
  const bool holds = on_side(seen.value);
  const bool settled = on_side(seen.low) == holds && on_side(seen.high) == holds;
  // An exact value on the threshold has no sides to weigh; its rule does.
  if (seen.low == seen.high) return {holds, true, holds ? 1.0 : 0.0};
  const double above = chance_above(seen, threshold);
  return {holds, settled, side == Side::below ? 1 - above : above};
}

/// Rules of which any one is enough.
struct AnyOf {
  bool holds = false, open = false;  ///< open: an interval spans its threshold and no other rule settles it
  double chance = 0;
};

AnyOf any_of(const std::vector<Test>& tests) {
  AnyOf all;
  double none = 1;
  bool sure = false;
  for (const Test& one : tests) {
    all.holds = all.holds || one.holds;
    all.open = all.open || !one.settled;
    sure = sure || (one.holds && one.settled);
    none *= 1 - one.chance;
  }
  if (sure) all.open = false;
  all.chance = 1 - none;
  return all;
}

/// Whole percents, but with tenths where the whole number would hide which side of the threshold it is on.
std::string percents(Fraction share, Fraction threshold) {
  const double shown = percent(as_printed(share));
  const bool near = std::abs(shown - percent(threshold)) < 1 && std::abs(shown - std::round(shown)) > 0.05;
  return near ? fmt::format("{:.1f} %", shown) : fmt::format("{:.0f} %", shown);
}

std::string cannot_tell(const char* what, const Interval& seen, Fraction threshold) {
  return fmt::format("the photo cannot tell for sure: {} lies anywhere from {} to {}, and {:g} % decides", what,
                     percents(seen.low, threshold), percents(seen.high, threshold), percent(threshold));
}

std::string older_coat_sentence(const Condition& seen, Colour top, const std::string& amount) {
  if (seen.older_colour && *seen.older_colour != top && *seen.older_colour != Colour::other && top != Colour::other) {
    return fmt::format("an older {} coat shows under the {} on {} of the marking", word(*seen.older_colour), word(top),
                       amount);
  }
  return fmt::format("an older coat shows where the top coat came off, on {} of the marking", amount);
}

bool build_up_lets_go(const Condition& seen, const Policy& policy, const PersonSays& person) {
  if (!person.build_up_mm || *person.build_up_mm <= policy.grind_build_up_mm) return false;
  return !person.build_up_sound.value_or(false) || as_printed(seen.loss.cracked) >= policy.grind_build_up_cracked;
}

std::vector<std::string> recorded_reasons_to_grind(const Condition& seen, const Policy& policy,
                                                   const PersonSays& person) {
  std::vector<std::string> reasons;
  if (person.adhesion && *person.adhesion <= policy.grind_adhesion_class) {
    reasons.push_back(fmt::format("a tape pull took off {} of the test square (class {}): the coat does not hold",
                                  removed_by_tape(*person.adhesion), *person.adhesion));
  }
  if (person.incompatible_below.value_or(false)) {
    reasons.emplace_back("the paint below was recorded as one that new paint does not hold on");
  }
  if (build_up_lets_go(seen, policy, person)) {
    constexpr double kMilsPerMm = 1 / 0.0254;
    const char* why = person.build_up_sound.value_or(false) ? "is cracked" : "was not found sound";
    reasons.push_back(fmt::format("the old coats are {:.1f} mm ({:.0f} mil) thick together and their build-up {}",
                                  *person.build_up_mm, *person.build_up_mm * kMilsPerMm, why));
  }
  return reasons;
}

struct Rules {
  Test flaked, older_coat, remaining, faded;
  std::vector<std::string> recorded;  ///< what a person recorded that means grinding
  AnyOf grind, repaint;
};

Rules weigh(const Condition& seen, const Policy& policy, const PersonSays& person) {
  Rules rules;
  rules.flaked = test(seen.flaked, Side::at_least, policy.grind_flaked);
  rules.older_coat = test(seen.older_coat, Side::at_least, policy.grind_older_coat);
  rules.remaining = test(seen.remaining, Side::below, policy.repaint_below);
  rules.faded = test(seen.faded, Side::over, policy.repaint_faded);
  rules.recorded = recorded_reasons_to_grind(seen, policy, person);
  const bool recorded = !rules.recorded.empty();
  rules.grind = any_of({rules.flaked, rules.older_coat, {recorded, true, recorded ? 1.0 : 0.0}});
  rules.repaint = any_of({rules.remaining, rules.faded});
  return rules;
}

std::vector<std::string> grind_reasons(const Condition& seen, Colour top, const Rules& rules, const Policy& policy) {
  std::vector<std::string> reasons = rules.recorded;
  if (rules.flaked.holds) {
    reasons.push_back(
        fmt::format("{} of the marking has come off in flakes", percents(seen.flaked.value, policy.grind_flaked)));
  }
  if (rules.older_coat.holds) {
    reasons.push_back(older_coat_sentence(seen, top, percents(seen.older_coat.value, policy.grind_older_coat)));
  }
  return reasons;
}

std::vector<std::string> repaint_reasons(const Condition& seen, const Rules& rules, const Policy& policy) {
  std::vector<std::string> reasons;
  if (rules.remaining.holds) {
    reasons.push_back(
        fmt::format("only {} of the paint is left", percents(seen.remaining.value, policy.repaint_below)));
  }
  if (rules.faded.holds) {
    reasons.push_back(
        fmt::format("the paint that is left has faded: it has lost {} of its difference from the pavement",
                    percents(seen.faded.value, policy.repaint_faded)));
  }
  return reasons;
}

std::vector<std::string> open_questions(const Condition& seen, const Rules& rules, bool grinds, const Policy& policy) {
  std::vector<std::string> questions;
  const auto ask = [&](const Test& one, const char* what, const Interval& interval, Fraction threshold) {
    if (!one.settled) questions.push_back(cannot_tell(what, interval, threshold));
  };
  if (rules.grind.open) {
    ask(rules.flaked, "the share that came off in flakes", seen.flaked, policy.grind_flaked);
    ask(rules.older_coat, "the share where an older coat shows", seen.older_coat, policy.grind_older_coat);
  }
  if (!grinds && rules.repaint.open) {
    ask(rules.remaining, "the paint that is left", seen.remaining, policy.repaint_below);
    ask(rules.faded, "what the paint has lost by fading", seen.faded, policy.repaint_faded);
  }
  return questions;
}

double severity(const Condition& seen, Action action, const Policy& policy) {
  const double lost = 1 - as_printed(seen.remaining.value).value;
  const double grown = std::clamp(lost / (1 - policy.severity_full_at.value), 0.0, 1.0);
  return action == Action::grind_and_repaint ? std::max(grown, policy.severity_of_grind) : grown;
}

Decision measured_decision(const Condition& seen, Colour top, const Policy& policy, const PersonSays& person) {
  const Rules rules = weigh(seen, policy, person);
  Decision decision;
  if (rules.grind.holds) {
    decision.action = Action::grind_and_repaint;
    decision.action_confidence = rules.grind.chance;
    decision.reasons = grind_reasons(seen, top, rules, policy);
  } else if (rules.repaint.holds) {
    decision.action = Action::repaint;
    decision.action_confidence = (1 - rules.grind.chance) * rules.repaint.chance;
    decision.reasons = repaint_reasons(seen, rules, policy);
  } else {
    decision.action_confidence = (1 - rules.grind.chance) * (1 - rules.repaint.chance);
    decision.reasons.push_back(fmt::format(
        "{} of the paint is left and {} has come off in flakes: it still does its work",
        percents(seen.remaining.value, policy.repaint_below), percents(seen.flaked.value, policy.grind_flaked)));
  }
  const bool open = rules.grind.open || (!rules.grind.holds && rules.repaint.open);
  if (open) {
    constexpr double kJustUnsure = kSureFrom - 0.01;
    decision.action_confidence = std::min(decision.action_confidence, kJustUnsure);
    const auto questions = open_questions(seen, rules, rules.grind.holds, policy);
    decision.reasons.insert(decision.reasons.end(), questions.begin(), questions.end());
  }
  decision.reasons.insert(decision.reasons.end(), seen.doubts.begin(), seen.doubts.end());
  decision.needs_review = open || seen.in_doubt;
  return decision;
}

}  // namespace

std::map<std::string, double> usual_consequence() {
  return {{"stop-line", 1.0}, {"crosswalk", 1.0}, {"accessible-symbol", 1.0}, {"hatching", 1.0}, {"fire-lane", 1.0},
          {"arrow", 0.9},     {"legend", 0.9},    {"yield-line", 0.9},        {"curb", 0.7},     {"line", 0.5},
          {"other", 0.5}};
}

double consequence_of(Kind kind, Colour colour, const Policy& policy) {
  const auto listed = [&](std::string_view name) -> std::optional<double> {
    const auto at = policy.consequence.find(std::string(name));
    if (at == policy.consequence.end()) return std::nullopt;
    return at->second;
  };
  // Local fire codes paint them red: IFC 503.3 as adopted by Bellevue WA 23.11.503.3 and Missouri City TX.
  const bool fire_lane = colour == Colour::red && (kind == Kind::curb || kind == Kind::line || kind == Kind::legend);
  if (const auto found = fire_lane ? listed("fire-lane") : std::nullopt) return *found;
  if (const auto found = listed(word(kind))) return *found;
  if (const auto found = is_arrow(kind) ? listed("arrow") : std::nullopt) return *found;
  return listed("other").value_or(0.5);
}

Decision decide(const Condition& condition, Kind kind, const Policy& policy, const PersonSays& person) {
  const Kind truly = person.kind.value_or(kind);
  const Colour colour = person.colour.value_or(condition.colour);
  Decision decision;
  if (person.action) {
    decision = {*person.action, 1.0, {fmt::format("a person on site decided: {}", word(*person.action))}, false, 0};
    if (person.note && !person.note->empty()) decision.reasons.push_back("noted on site: " + *person.note);
  } else {
    decision = measured_decision(condition, colour, policy, person);
    if (person.confirmed.value_or(false)) {
      decision.needs_review = false;
      decision.reasons.emplace_back("a person on site confirmed this");
    }
  }
  decision.priority = severity(condition, decision.action, policy) * consequence_of(truly, colour, policy);
  return decision;
}

}  // namespace lotwear
