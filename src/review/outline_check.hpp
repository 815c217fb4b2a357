#pragma once
// Outlines that came from outside, before anything is done with them.

#include <optional>
#include <string>
#include <vector>

#include "survey/survey.hpp"

namespace lotwear {

/// What is wrong with it, one sentence; nothing: it can be measured, or at least kept.
std::optional<std::string> fault_of(const std::vector<ImageRing>& outline, const SurveyPhoto& photo);

/// To a tenth of a pixel, as the survey stores it: what is measured is what can be measured again.
std::vector<ImageRing> as_stored(std::vector<ImageRing> outline);

}  // namespace lotwear
