#pragma once
// How much of its difference from the pavement the remaining paint has lost against a fresh coat. A photo shows only
// paint over pavement: pale paint on pale pavement and fresh paint on dark pavement look the same by that ratio. So
// every pavement that the surface allows is tried with every degree of fading, each as likely as it is common and as it
// agrees with the ratio seen; what is left open is the interval's width.

#include "base/kinds.hpp"
#include "base/units.hpp"
#include "measure/light_field.hpp"

namespace lotwear {

/// `chance_of_concrete` 0..1, else asphalt; `ratio_error`: one standard deviation of the log of paint over pavement;
/// `on_field`: the marking lies on a painted blue field. The interval is 90 %, its value the median.
Interval fading_of(const Ratio& paint_over_pavement, Colour colour, double chance_of_concrete, double ratio_error,
                   bool on_field);

}  // namespace lotwear
