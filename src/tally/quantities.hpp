#pragma once
// What the work takes, before it is priced.

#include <string>
#include <vector>

#include "survey/survey.hpp"
#include "tally/rates.hpp"
#include "tally/tally.hpp"

namespace lotwear {

struct Quantities {
  std::vector<QuantityLine> lines;     ///< by kind, colour, surface, action, in the order of their words
  std::vector<std::string> to_review;  ///< ids of counted markings that need a person's look
  std::vector<std::string> notes;
};

/// `Colour`, `Kind`, action and outline by the person's word where there is one.
Quantities add_up(const Survey& survey, const Rates& rates);

}  // namespace lotwear
