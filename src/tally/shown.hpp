#pragma once
// Quantities in the units that the person reads.

#include <string_view>
#include <vector>

#include "tally/tally.hpp"

namespace lotwear {

/// One number of a quantity line, in the units shown, rounded to hundredths; `name` ends in its unit.
struct ShownNumber {
  std::string_view name;
  double value = 0;
};
std::vector<ShownNumber> shown(const QuantityLine& line, Units units);
std::vector<ShownNumber> shown(const PaintLine& line, Units units);

/// To hundredths, half away from zero.
double to_hundredths(double value);

}  // namespace lotwear
