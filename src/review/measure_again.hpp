#pragma once
// What a person drew, measured by the code that measured everything else.

#include "measure/measure.hpp"
#include "review/study.hpp"

namespace lotwear {

struct MeasuredAgain {
  Condition condition;
  std::optional<LossMap> map;  ///< nothing where it could not be measured
};

/// others  outlines of the photo's other markings that count: none of them is pavement beside this one
/// A marking that cannot be measured is one all the same: its condition holds anything from 0 to 100 % and says why.
MeasuredAgain measure_again(const Study& study, const std::string& id, Kind kind, const std::vector<ImageRing>& outline,
                            const std::vector<std::vector<ImageRing>>& others);

/// What is known of a marking that nothing could be measured of.
Condition unmeasured(Colour colour, const std::string& why);

}  // namespace lotwear
