#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "tally/crew_plan.hpp"

namespace lotwear {

namespace {

std::string degrees(double celsius, Units units) {
  return units == Units::metric ? fmt::format("{:.0f} \u00b0C", celsius)
                                : fmt::format("{:.0f} \u00b0F", celsius * 9 / 5 + 32);
}

std::string apart(double celsius, Units units) {
  return units == Units::metric ? fmt::format("{:.0f} \u00b0C", celsius)
                                : fmt::format("{:.0f} \u00b0F", celsius * 9 / 5);
}

}  // namespace

double dew_point_c(double air_c, double humidity_percent) {
  constexpr double b = 17.62, c = 243.12;
  const double gamma = std::log(humidity_percent / 100) + b * air_c / (c + air_c);
  return c * gamma / (b - gamma);
}

std::vector<std::string> weather_limits(const Weather& weather, Units units) {
  std::vector<std::string> limits;
  if (weather.lowest_c && weather.highest_c) {
    limits.push_back(fmt::format("Air and pavement from {} to {}, measured on the pavement with a surface thermometer.",
                                 degrees(*weather.lowest_c, units), degrees(*weather.highest_c, units)));
  } else if (weather.lowest_c) {
    limits.push_back(
        fmt::format("Air and pavement at {} or warmer, and not falling.", degrees(*weather.lowest_c, units)));
  } else if (weather.highest_c) {
    limits.push_back(fmt::format("Air and pavement no hotter than {}.", degrees(*weather.highest_c, units)));
  }
  if (weather.above_dew_point_c) {
    limits.push_back(fmt::format("Pavement at least {} above the dew point, or moisture settles under the paint.",
                                 apart(*weather.above_dew_point_c, units)));
  }
  if (weather.dry_before_h || weather.dry_after_h) {
    std::string when;
    if (weather.dry_before_h) when = fmt::format("for {:g} h before painting", *weather.dry_before_h);
    if (weather.dry_after_h)
      when += fmt::format("{}for {:g} h after it", when.empty() ? "" : " and ", *weather.dry_after_h);
    limits.push_back(fmt::format("No rain {}; the pavement is dry.", when));
  }
  return limits;
}

std::vector<CrewPlan::Coldest> coldest_pavement(const Weather& weather, Units units) {
  if (!weather.above_dew_point_c) return {};
  std::vector<CrewPlan::Coldest> all;
  // Whole degrees of the scale that the crew reads: 50, 60, 70, 80 F or 10, 15, 20, 25 C.
  for (const double humidity : {40.0, 60.0, 80.0, 90.0}) {
    for (int step = 0; step < 4; ++step) {
      const double air = units == Units::metric ? 10 + 5.0 * step : (50 + 10.0 * step - 32) * 5 / 9;
      const double dew = dew_point_c(air, humidity);
      all.push_back({humidity, air, dew, std::max(dew + *weather.above_dew_point_c, weather.lowest_c.value_or(-100))});
    }
  }
  return all;
}

}  // namespace lotwear
