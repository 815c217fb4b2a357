#pragma once
// Changes of a `person` object as text: fields that we do not know stay as they are.

#include <optional>
#include <string>

#include "survey/survey.hpp"

namespace lotwear {

/// person  the object, or "null"; so is what comes back when nothing is left in it
/// fields  an object; null takes a field back. Throws Failure for a field that nobody can set.
std::string with_fields(const std::string& person, const std::string& fields);

/// The outline a person drew, what was measured within it, and its pictures.
std::string with_outline(const std::string& person, const std::vector<ImageRing>& outline, const Condition& condition,
                         const EvidenceNames& pictures);
std::string without_outline(const std::string& person);

/// "kind is stop-line, note is gone": for the undo button.
std::string said_words(const std::string& fields);

}  // namespace lotwear
