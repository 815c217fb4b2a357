#include "views/report_card.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "survey/field.hpp"
#include "views/report_pictures.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

std::vector<ReportShare> shares_of(const Condition& condition) {
  return {{Spot::paint, loss_words(Spot::paint), percent(condition.remaining.value)},
          {Spot::abraded, loss_words(Spot::abraded), percent(condition.loss.abraded)},
          {Spot::flaked, loss_words(Spot::flaked), percent(condition.loss.flaked)},
          {Spot::cracked, loss_words(Spot::cracked), percent(condition.loss.cracked)}};
}

/// The largest loss from one percent on.
std::string main_loss(const std::vector<ReportShare>& shares) {
  const auto largest =
      std::max_element(shares.begin() + 1, shares.end(),
                       [](const ReportShare& a, const ReportShare& b) { return a.percent < b.percent; });
  return largest->percent < 1 ? "\u2013" : fmt::format("{}, {}", largest->words, percent_words(largest->percent));
}

std::string size_words(const std::optional<Size>& size, Units units) {
  if (!size) return "not known: the photo has no scale";
  return fmt::format("{} \u00d7 {}, {} (lengths \u00b1\u00a0{}\u00a0%)", length_words(size->length_m, units),
                     length_words(size->width_m, units), area_words(size->area_m2, units),
                     number(percent(size->error), 1));
}

std::string kind_words(const SurveyMarking& marking, const SurveyMarking* above) {
  if (marking.person().kind) return kind_title(*marking.person().kind) + ", by a person";
  if (above != nullptr) return "Field on which " + above->id + " is painted";
  return fmt::format("{} ({} sure)", marking_title(marking), percent_words(100 * marking.kind_confidence));
}

std::vector<ReportFact> facts_of(const SurveyMarking& marking, const SurveyMarking* above, const Survey& survey,
                                 const Decision& decision, Units units) {
  const PersonSays said = marking.person();
  const Condition seen = condition_of(marking);
  std::vector<ReportFact> facts = {{"Size", size_words(size_of(marking, survey), units)}};
  facts.push_back({"Kind", kind_words(marking, above)});
  if (!said.action) facts.push_back({"Action", percent_words(100 * decision.action_confidence) + " sure"});
  if (percent(seen.older_coat.value) >= 1) {
    const std::string colour = seen.older_colour ? std::string(word(*seen.older_colour)) + ", " : "";
    facts.push_back({"Older coat", colour + percent_words(percent(seen.older_coat.value)) + " in sight"});
  }
  facts.push_back({"Faded", percent_words(percent(seen.appearance.faded))});
  if (percent(seen.appearance.soiled) >= 1) {
    facts.push_back({"Dirty", percent_words(percent(seen.appearance.soiled)) + " of the paint (not a loss)"});
  }
  if (seen.appearance.contrast) {
    facts.push_back({"Brightness", number(*seen.appearance.contrast, 1) + " \u00d7 the pavement"});
  }
  if (seen.flaking_grade && seen.flaking_grade->density > 0) {
    facts.push_back({"Flaking", fmt::format("density {}, size {} (ISO\u00a04628\u20115)", seen.flaking_grade->density,
                                            seen.flaking_grade->size)});
  }
  if (said.adhesion) facts.push_back({"Tape pull", fmt::format("class {} (ASTM\u00a0D3359\u00a0B)", *said.adhesion)});
  if (said.incompatible_below)
    facts.push_back({"Paint below", *said.incompatible_below ? "new paint does not hold on it, by a person"
                                                             : "holds new paint, by a person"});
  if (said.build_up_mm) facts.push_back({"Build-up", number(*said.build_up_mm, 1) + "\u00a0mm, by a person"});
  if (said.coats) facts.push_back({"Coats", std::to_string(*said.coats) + ", by a person"});
  const auto photo = std::find_if(survey.photos.begin(), survey.photos.end(),
                                  [&](const SurveyPhoto& p) { return p.file == marking.photo; });
  facts.push_back({"Photo", marking.photo});
  if (photo != survey.photos.end() && photo->taken) facts.push_back({"Taken", time_words(*photo->taken)});
  return facts;
}

std::string standing_of(const SurveyMarking& marking) {
  const PersonSays said = marking.person();
  std::vector<std::string> set;
  if (said.kind) set.emplace_back("kind");
  if (said.colour) set.emplace_back("colour");
  if (said.outline && !said.added.value_or(false)) set.emplace_back("outline");
  if (said.action) set.emplace_back("action");
  std::string changed = said.added.value_or(false) ? "A person drew it; it was measured within that outline." : "";
  if (!set.empty()) changed += (changed.empty() ? "A person set the " : " The person set the ") + listed(set) + ".";
  if (said.confirmed.value_or(false)) return changed + (changed.empty() ? "" : " ") + "Confirmed by a person.";
  if (!changed.empty()) return changed + " The rest was measured from the photo.";
  return "Measured from the photo; no person has confirmed it yet.";
}

ReportPicture captioned(ReportPicture picture, const std::string& caption, const std::string& alt) {
  picture.caption = caption;
  picture.alt = alt;
  return picture;
}

}  // namespace

Hazards hazards_of(const SurveyMarking& marking, Action action) {
  const bool grinding = action == Action::grind_and_repaint;
  const bool yellow = colour_of(marking) == Colour::yellow || marking.condition.colour == Colour::yellow ||
                      condition_of(marking).older_colour == Colour::yellow;
  return {grinding, grinding && yellow};
}

ReportCard report_card(const SurveyMarking& marking, const Survey& survey, const Policy& policy,
                       const std::filesystem::path& folder, Units units) {
  const Decision decision = decision_of(marking, policy);
  const Condition seen = condition_of(marking);
  const Kind kind = kind_of(marking);
  const PersonSays said = marking.person();
  ReportCard card;
  card.id = marking.id;
  const SurveyMarking* above = painted_on(marking, survey);
  card.title = above != nullptr ? "Field under " + above->id : marking_title(marking);
  card.name = above != nullptr ? "Field" : card.title;
  card.name[0] = static_cast<char>(card.name[0] - 'A' + 'a');
  card.about = fmt::format("{} on {}", word(colour_of(marking)), word(seen.surface));
  if (seen.surface == Surface::other) card.about = std::string(word(colour_of(marking)));
  card.action = decision.action;
  card.action_words = action_title(decision.action);
  card.remaining = percent(seen.remaining.value);
  card.low = percent(seen.remaining.low);
  card.high = percent(seen.remaining.high);
  card.remaining_words = fmt::format("{} paint left ({}\u2013{})", percent_words(card.remaining), number(card.low, 0),
                                     percent_words(card.high));
  card.shares = shares_of(seen);
  card.main_loss = main_loss(card.shares);
  card.area = "\u2013";
  if (const auto size = size_of(marking, survey)) card.area = area_words(size->area_m2, units);
  card.priority = decision.priority;
  card.reasons = decision.reasons;
  card.if_it_waits = if_it_waits(kind, decision.action);
  card.cautions = card_cautions(hazards_of(marking, decision.action));
  if (decision.needs_review) card.review_words = "A person should look at this one before the work is settled.";
  card.standing = standing_of(marking);
  card.note = said.note;
  card.facts = facts_of(marking, above, survey, decision, units);

  std::vector<std::string> parts;
  for (const ReportShare& share : card.shares) {
    if (share.percent >= 0.5) parts.push_back(percent_words(share.percent) + " " + share.words);
  }
  const std::string name = fmt::format("{}, {}, {}", card.id, card.name, card.about);
  const EvidenceNames pictures = evidence_of(marking);
  card.photo = captioned(read_picture(folder, pictures.photo), "In the photo, outlined as it was painted",
                         fmt::format("Photo of {}, outlined as it was painted; from {}.", name, marking.photo));
  card.plan = captioned(read_picture(folder, pictures.plan), "From straight above",
                        fmt::format("{} seen from straight above.", name));
  card.loss = captioned(read_picture(folder, pictures.loss), "What is left, and how the rest went",
                        fmt::format("Map of {}: {}.", name, listed(parts)));
  return card;
}

}  // namespace lotwear
