#pragma once
// The same paint in overlapping photos counts once.

#include <string>
#include <vector>

#include "survey/survey.hpp"

namespace lotwear {

struct Counted {
  std::vector<std::size_t> markings;  ///< positions in the survey, in its order
  std::vector<std::string> notes;     ///< what had to be guessed
};

/// Every marking that repeats no other and is no false alarm. One that repeats an unknown marking is counted; of a
/// circle of repeats the first is.
Counted count_once(const Survey& survey);

}  // namespace lotwear
