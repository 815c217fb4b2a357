#pragma once
// What the report says about how it was made, what it cannot know, and how not to get hurt.

#include <vector>

#include "policy/policy.hpp"
#include "survey/survey.hpp"
#include "views/report_content.hpp"

namespace lotwear {

/// How it was measured, how accurate that is, what a photo cannot show.
std::vector<ReportSection> method_sections(const Survey& survey, const Policy& policy);

struct Hazards {
  bool grinding = false;
  bool yellow = false;  ///< a marking to be ground is yellow, or a yellow coat shows under it
};
/// Silica, lead and chromium, wire wheels, traffic; each with where its figures come from.
std::vector<ReportSection> caution_sections(Hazards hazards);

/// The line that stands on the card of a marking that is to be ground.
std::vector<std::string> card_cautions(Hazards hazards);

}  // namespace lotwear
