#pragma once
// Who does what when. The crew takes the task whose marking has the longest way to go among those that are ready: one
// grinds the next marking while another waits for primer or paint to dry.

#include "tally/rates.hpp"
#include "tally/tally.hpp"
#include "tally/work.hpp"

namespace lotwear {

CrewPlan crew_plan(const Work& work, const Rates& rates, Units units);

/// Magnus formula with the constants of WMO-No. 8, annex 4.B (from memory): 17.62 and 243.12 degrees Celsius.
double dew_point_c(double air_c, double humidity_percent);

/// The limits as sentences, and the coldest pavement for usual air and humidity.
std::vector<std::string> weather_limits(const Weather& weather, Units units);
std::vector<CrewPlan::Coldest> coldest_pavement(const Weather& weather, Units units);

}  // namespace lotwear
