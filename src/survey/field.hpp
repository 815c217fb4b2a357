#pragma once
// A symbol or a word is often painted on a field of another colour, which is measured and painted as a marking of its own.

#include "survey/survey.hpp"

namespace lotwear {

/// The marking that is painted upon `field`: what fits no kind and lies under a marking of the same photo that does is
/// that one's field. nullptr: none.
const SurveyMarking* painted_on(const SurveyMarking& field, const Survey& survey);

}  // namespace lotwear
