#pragma once
// What the finder took for a marking and the full-resolution picture does not bear out.

#include "base/condition.hpp"
#include "base/units.hpp"

namespace lotwear {

/// Where next to no paint is left, nothing says that any was there; nor where that may well be so and the kind is a
/// guess: pale spots of pavement taken for a marking's last paint. A marking worn to its last stays where its shape is
/// sure.
bool nothing_says_painted(const Condition& condition, Fraction kind_confidence);

}  // namespace lotwear
