#pragma once
// One marking -> its evidence card.

#include <filesystem>

#include "views/report_content.hpp"
#include "views/report_guidance.hpp"

namespace lotwear {

ReportCard report_card(const SurveyMarking& marking, const Survey& survey, const Policy& policy,
                       const std::filesystem::path& folder, Units units);

/// What this marking's work can do to people; a coat that a person or the photo calls yellow counts, on top or beneath.
Hazards hazards_of(const SurveyMarking& marking, Action action);

}  // namespace lotwear
