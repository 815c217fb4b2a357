#include "views/report_guidance.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "views/report_words.hpp"

namespace lotwear {

namespace {

ReportSection how_it_was_measured(const Survey& survey) {
  std::vector<std::string> sources;
  for (const SurveyPhoto& photo : survey.photos) {
    if (!photo.plane) continue;
    const std::string words = plane_words(photo.plane->source);
    if (std::find(sources.begin(), sources.end(), words) == sources.end()) sources.push_back(words);
  }
  std::sort(sources.begin(), sources.end());
  ReportSection section{"How it was measured", {}, {}, ""};
  section.points = {
      "Every marking was looked for in ordinary photos, and its outline was fitted as it was once painted, also where "
      "the "
      "paint is gone.",
      "The pavement's plane was worked out for each photo, so that a marking counts as seen from straight above and "
      "its far "
      "end weighs as much as its near end."};
  if (!sources.empty()) section.points.back() += " What it was worked out from here: " + listed(sources) + ".";
  section.points.insert(
      section.points.end(),
      {"Inside the outline, the share of paint was found spot by spot in linear light, against the bare pavement and "
       "the "
       "sound paint beside it in the same light. Dirt and tyre marks on sound paint are not counted as loss.",
       "What is lost is told apart by how it went: worn off the stone tops, let go in flakes, or cracked."});
  return section;
}

ReportSection how_it_was_decided(const Policy& policy) {
  ReportSection section{"How the work was decided", {}, {}, ""};
  section.points = {
      fmt::format(
          "Grind and repaint: {} or more has come off in flakes, or an older coat shows on {} or more, or a tape "
          "pull or a person on site found that the old coats do not hold.",
          percent_words(percent(policy.grind_flaked)), percent_words(percent(policy.grind_older_coat))),
      fmt::format(
          "Repaint: less than {} of the paint is left, or what is left has lost more than {} of its difference from "
          "the pavement.",
          percent_words(percent(policy.repaint_below)), percent_words(percent(policy.repaint_faded))),
      "Leave as it is: everything else.",
      "Where the interval of a deciding number reaches across its limit, the marking is set aside for a person to look "
      "at. "
      "What a person on site decided stands over what was measured.",
      "The order of work is severity times harm: how badly the marking is worn, times what its absence does."};
  return section;
}

ReportSection how_accurate() {
  return {
      "How accurate it is",
      {"Every share of paint comes with a range in brackets, in which the true share is meant to lie nine times in "
       "ten. Hard "
       "shadows, wet pavement, blur and a flat view make the range wider.",
       "Sizes carry their own error. They are best where a printed scale sheet lay in the photo. Without one they rest "
       "on "
       "the usual width of a line or size of a marking, and where not even that was in view on how high a camera is "
       "usually held, which is a guess."},
      {},
      ""};
}

ReportSection what_a_photo_cannot_show() {
  return {
      "What a photo cannot show",
      {"The following was not measured, and nothing in this report says anything about it:"},
      {"how bright the markings are at night in headlights (retroreflectivity), and glass beads",
       "the thickness of the paint, and layers that are hidden under a sound coat",
       "how well the paint holds where it has not let go yet: a tape-pull test on site tells",
       "lead, chromium or anything else in the paint: a laboratory tells",
       "whether the lot complies with the law: colours, sizes, counts and places of markings are for local codes and "
       "licensed practice"},
      ""};
}

}  // namespace

std::vector<ReportSection> method_sections(const Survey& survey, const Policy& policy) {
  return {how_it_was_measured(survey), how_it_was_decided(policy), how_accurate(), what_a_photo_cannot_show()};
}

// Figures: 29 CFR 1926.1153 Table 1 (xii), (xiii) and its limits; 29 CFR 1926.62; Caltrans SSP 14-11.07 guidance, 2012:
// read in copies. 29 CFR 1926.1126, 1926.102, 1926.300 to .303, 40 CFR 261.24, MUTCD Part 6, ANSI/ISEA 107: from
// memory.
std::vector<ReportSection> caution_sections(Hazards hazards) {
  std::vector<ReportSection> all;
  if (hazards.grinding) {
    all.push_back(
        {"Silica dust",
         {"Grinding paint off asphalt or concrete frees crystalline silica, which scars the lungs."},
         {"Hand-held grinders: a shroud around the wheel and a dust collector that draws 25\u00a0cubic feet a minute "
          "or "
          "more for "
          "every inch of wheel, with a 99\u00a0% filter that is cleaned as it works; or, outdoors, a grinder that "
          "feeds "
          "water to "
          "the wheel.",
          "Walk-behind milling machines and floor grinders: the maker's water feed or dust collection, in use.",
          "The limit is 50\u00a0µg/m³ over eight hours, and action starts at 25. Never sweep or blow the dust dry; "
          "keep it "
          "and its "
          "slurry out of storm drains."},
         "29 CFR 1926.1153, Table 1 (xii) and (xiii)"});
    all.push_back(
        {"Lead and chromium in old paint",
         {hazards.yellow
              ? "There is yellow paint among the markings to be ground. Old yellow traffic paint can hold lead "
                "chromate, and the colour does not tell."
              : "Old traffic paint, above all yellow, can hold lead chromate, also in coats that lie hidden."},
         {"Have the paint tested before it is ground. Until a test says otherwise, treat yellow paint of unknown age "
          "as "
          "holding lead.",
          "In construction, lead in the air is limited to 50\u00a0µg/m³ over eight hours, with action from 30; "
          "chromium VI "
          "to 5, "
          "with action from 2.5.",
          "Dust and residue may be hazardous waste: from 5.0\u00a0mg/L of lead or chromium in the leaching test, and "
          "states "
          "may be "
          "stricter."},
         "29 CFR 1926.62 and 1926.1126; 40 CFR 261.24; Caltrans, guidance to SSP 14-11.07 (2012)"});
    all.push_back({"Wire wheels and grinders",
                   {"Wire wheels throw pieces of wire."},
                   {"A face shield over goggles, ear protection, and the guard on the machine.",
                    "Wheels rated for the machine's speed, and nobody in line with the wheel."},
                   "29 CFR 1926.102 and 1926.300 to 1926.303"});
  }
  all.push_back(
      {"Traffic",
       {"Lots are open while the work is done."},
       {"Close or cone off the work area, and wear high-visibility vests. Where a road is open to public travel, the "
        "rules for road work zones hold.",
        "Keep fire lanes open, and keep an accessible way from the accessible spaces to the door, or provide another "
        "for as long as the work lasts.",
        "Keep cars and people off the new paint until it is dry."},
       "MUTCD Part 6; ANSI/ISEA 107"});
  all.push_back(
      {"Local rules come first",
       {"These cautions are not complete. Local codes, the law where the work is done, the makers' instructions and "
        "the judgement of licensed professionals stand above them."},
       {},
       ""});
  return all;
}

std::vector<std::string> card_cautions(Hazards hazards) {
  if (!hazards.grinding) return {};
  std::vector<std::string> lines = {"Grinding frees silica dust, and wire wheels throw wire: see the cautions."};
  if (hazards.yellow) lines.push_back("Yellow paint here may hold lead and chromium: have it tested before grinding.");
  return lines;
}

}  // namespace lotwear
