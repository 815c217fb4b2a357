#include "tally/shown.hpp"

#include <cmath>

namespace lotwear {

double to_hundredths(double value) { return std::round(value * 100) / 100 + 0.0; }

std::vector<ShownNumber> shown(const QuantityLine& line, Units units) {
  const bool us = units == Units::us_customary;
  const double length = us ? kMetresPerFoot : 1, area = us ? kSquareMetresPerSquareFoot : 1;
  const double volume = us ? kLitresPerGallon : 1, mass = us ? kKilogramsPerPound : 1;
  return {{us ? "length_ft" : "length_m", to_hundredths(line.length_m / length)},
          {us ? "width_in" : "width_m", to_hundredths(line.width_m / (us ? kMetresPerInch : 1))},
          {us ? "area_sqft" : "area_m2", to_hundredths(line.area_m2 / area)},
          {us ? "perimeter_ft" : "perimeter_m", to_hundredths(line.perimeter_m / length)},
          {us ? "masking_ft" : "masking_m", to_hundredths(line.masking_m / length)},
          {us ? "paint_gal" : "paint_l", to_hundredths(line.paint_l / volume)},
          {us ? "beads_lb" : "beads_kg", to_hundredths(line.beads_kg / mass)},
          {us ? "grind_sqft" : "grind_m2", to_hundredths(line.grind_m2 / area)},
          {us ? "grind_passes_sqft" : "grind_passes_m2", to_hundredths(line.grind_pass_m2 / area)},
          {us ? "debris_gal" : "debris_l", to_hundredths(line.debris_l / volume)},
          {us ? "prime_sqft" : "prime_m2", to_hundredths(line.prime_m2 / area)},
          {us ? "primer_gal" : "primer_l", to_hundredths(line.primer_l / volume)},
          {"grind_h", to_hundredths(line.grind_h)},
          {"collect_h", to_hundredths(line.collect_h)},
          {"clean_h", to_hundredths(line.clean_h)},
          {"dry_h", to_hundredths(line.dry_h)},
          {"mask_h", to_hundredths(line.mask_h)},
          {"prime_h", to_hundredths(line.prime_h)},
          {"paint_h", to_hundredths(line.paint_h)}};
}

std::vector<ShownNumber> shown(const PaintLine& line, Units units) {
  const bool us = units == Units::us_customary;
  return {{us ? "paint_gal" : "paint_l", to_hundredths(line.paint_l / (us ? kLitresPerGallon : 1))},
          {us ? "beads_lb" : "beads_kg", to_hundredths(line.beads_kg / (us ? kKilogramsPerPound : 1))}};
}

}  // namespace lotwear
