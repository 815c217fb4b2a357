#pragma once
// What each marking takes, before it is added up: one entry for every marking that an option covers.

#include <string>
#include <vector>

#include "survey/survey.hpp"
#include "tally/rates.hpp"
#include "tally/tally.hpp"

namespace lotwear {

struct MarkingWork {
  std::string id;
  Kind kind = Kind::other;
  Colour colour = Colour::other;
  Surface surface = Surface::other;
  Action action = Action::no_action;  ///< in this option
  bool needs_review = false;
  bool confirmed = false;  ///< by a person
  bool field = false;      ///< of another marking, which is painted upon it
  std::optional<Size> size;
  Amounts amounts;  ///< zero without size
};

struct Work {
  std::vector<MarkingWork> markings;    ///< in the order of the survey, repeats left out
  std::vector<LeftUndone> left_undone;  ///< counted markings that this option leaves, most urgent first
  std::vector<std::string> notes;
};

Work work_of(const Survey& survey, const Rates& rates, BidOption option);

/// Coats on the pavement: what a person counted, else two where an older one shows by the policy, else one.
int coats_on(const SurveyMarking& marking, const Policy& policy);

}  // namespace lotwear
