#include "base/flaking_grade.hpp"

#include <array>
#include <cmath>

namespace lotwear {

namespace {

constexpr double kNothingPercent = 0.05;  // prints as 0.0 %
constexpr std::array<double, 5> kQuantityPercent = {0.1, 0.3, 1, 3, 15};
constexpr std::array<double, 4> kSizeMm = {1, 3, 10, 30};

int density_class(double flaked_percent) {
  if (!(flaked_percent >= kNothingPercent)) return 0;
  int density = 1;
  while (density < 5) {
    const auto at = static_cast<std::size_t>(density);
    if (flaked_percent < std::sqrt(kQuantityPercent[at - 1] * kQuantityPercent[at])) break;
    ++density;
  }
  return density;
}

int size_class(double flake_mm) {
  if (!(flake_mm > 0)) return 0;
  int size = 1;
  for (const double limit : kSizeMm)
    size += flake_mm > limit ? 1 : 0;
  return size;
}

}  // namespace

FlakingGrade flaking_grade(Fraction share, Millimetres typical_flake) {
  const int density = density_class(percent(share));
  return {density, density == 0 ? 0 : size_class(typical_flake.value)};
}

}  // namespace lotwear
