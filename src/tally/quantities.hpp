#pragma once
// What the work takes, before it is priced.

#include <string>
#include <vector>

#include "tally/rates.hpp"
#include "tally/tally.hpp"
#include "tally/work.hpp"

namespace lotwear {

/// By kind, colour, surface, action, in the order of their words.
std::vector<QuantityLine> add_up(const Work& work);

/// Paint by colour, with the containers to bring.
std::vector<PaintLine> paint_by_colour(const std::vector<QuantityLine>& lines, const Rates& rates);

/// The fewest litres that hold `litres` in whole containers, then the fewest containers: {"1 x 5 gal", "2 x 1 gal"}.
std::vector<std::string> whole_containers(double litres, const std::vector<WrittenAmount>& sizes);

/// Every number of a line from the measured sizes and the rates, in the units shown.
std::vector<Working> workings_of(const QuantityLine& line, const Rates& rates, Units units);

}  // namespace lotwear
