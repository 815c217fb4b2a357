#include <fmt/format.h>

#include <cmath>

#include "tally/quantities.hpp"
#include "tally/shown.hpp"

namespace lotwear {

namespace {

/// Numbers as the estimate shows them, with their units.
struct Words {
  bool us = true;
  std::string length(double m) const {
    return us ? fmt::format("{:.2f} ft", m / kMetresPerFoot) : fmt::format("{:.2f} m", m);
  }
  std::string area(double m2) const {
    return us ? fmt::format("{:.2f} sq ft", m2 / kSquareMetresPerSquareFoot) : fmt::format("{:.2f} m2", m2);
  }
  std::string volume(double l) const {
    return us ? fmt::format("{:.2f} gal", l / kLitresPerGallon) : fmt::format("{:.2f} l", l);
  }
  std::string mass(double kg) const {
    return us ? fmt::format("{:.2f} lb", kg / kKilogramsPerPound) : fmt::format("{:.2f} kg", kg);
  }
  std::string film(double m) const {
    return us ? fmt::format("{:.4g} mil", m / kMetresPerMil) : fmt::format("{:.4g} um", m * 1e6);
  }
  std::string small(double m) const {
    return us ? fmt::format("{:.3g} in", m / kMetresPerInch) : fmt::format("{:.4g} mm", m * 1000);
  }
  std::string pace_of_area(double m2_per_h) const {
    return us ? fmt::format("{:.4g} sq ft/h", m2_per_h / kSquareMetresPerSquareFoot)
              : fmt::format("{:.4g} m2/h", m2_per_h);
  }
  std::string pace_of_length(double m_per_h) const {
    return us ? fmt::format("{:.4g} ft/h", m_per_h / kMetresPerFoot) : fmt::format("{:.4g} m/h", m_per_h);
  }
};

std::string coats_words(int coats) { return fmt::format("{} {}", coats, coats == 1 ? "coat" : "coats"); }

/// Markings of one line can have different numbers of coats.
std::string passes_words(double passes) {
  if (std::abs(passes - std::round(passes)) > 1e-6) return fmt::format("{:.3g} passes on the mean", passes);
  return fmt::format("{:.0f} {}", passes, passes < 1.5 ? "pass" : "passes");
}

Working paint_working(const QuantityLine& line, const Rates& rates, const Words& words) {
  return {"paint",
          fmt::format("{} x {} of wet film x {} x (1 + {:g} % waste) = {}", words.area(line.area_m2),
                      words.film(rates.wet_film_m), coats_words(rates.coats), percent(rates.waste),
                      words.volume(line.paint_l)),
          {"paint.wet_film", "paint.coats", "paint.waste"}};
}

Working painting_working(const QuantityLine& line, const Rates& rates, const Words& words) {
  const std::optional<Pace> pace = for_kind(rates.painting, line.kind);
  const int with_size = line.count - line.without_size;
  std::string at;
  if (pace->of == Measure::each) {
    at = fmt::format("{} x {:g} min each", with_size, 60 / pace->per_hour);
  } else if (pace->of == Measure::length) {
    at = fmt::format("{} / {}", words.length(line.length_m), words.pace_of_length(pace->per_hour));
  } else {
    at = fmt::format("{} / {}", words.area(line.area_m2), words.pace_of_area(pace->per_hour));
  }
  return {"painting",
          fmt::format("{} x {} = {:.2f} h", at, coats_words(rates.coats), line.paint_h),
          {pace->source, "paint.coats"}};
}

void add_grinding(std::vector<Working>& all, const QuantityLine& line, const Rates& rates, const Words& words) {
  const Grinding& grinding = rates.grinding;
  const std::string method = "preparation.grinding.methods." + grinding.method;
  all.push_back({"area ground",
                 fmt::format("{} + {} of outline x {} of margin = {}", words.area(line.area_m2),
                             words.length(line.perimeter_m), words.small(grinding.margin_m), words.area(line.grind_m2)),
                 {"preparation.grinding.margin"}});
  all.push_back({"grinding",
                 fmt::format("{} x {} / {} ({}) = {:.2f} h", words.area(line.grind_m2),
                             passes_words(line.grind_pass_m2 / line.grind_m2), words.pace_of_area(grinding.m2_per_h),
                             grinding.method, line.grind_h),
                 {method + ".pace", method + ".passes", method + ".passes_each_older_coat"}});
  if (grinding.depth_m > 0) {
    all.push_back({"dust and chips",
                   fmt::format("{} of passes x {} = {}", words.area(line.grind_pass_m2), words.film(grinding.depth_m),
                               words.volume(line.debris_l)),
                   {method + ".depth"}});
  }
  if (grinding.collecting_m2_per_h) {
    all.push_back({"collecting dust",
                   fmt::format("{} / {} = {:.2f} h", words.area(line.grind_m2),
                               words.pace_of_area(*grinding.collecting_m2_per_h), line.collect_h),
                   {"preparation.grinding.collecting"}});
  }
  if (line.primer_l > 0) {
    all.push_back({"primer",
                   fmt::format("{} x {} x (1 + {:g} % waste) = {}", words.area(line.prime_m2),
                               words.film(rates.primer->wet_film_m), percent(rates.waste), words.volume(line.primer_l)),
                   {"paint.primer.wet_film", "paint.waste"}});
    all.push_back({"priming",
                   fmt::format("{} / {} = {:.2f} h", words.area(line.prime_m2),
                               words.pace_of_area(rates.primer->m2_per_h), line.prime_h),
                   {"paint.primer.pace"}});
  }
}

}  // namespace

std::vector<Working> workings_of(const QuantityLine& line, const Rates& rates, Units units) {
  if (line.action == Action::no_action || line.without_size == line.count) return {};
  const Words words{units == Units::us_customary};
  std::vector<Working> all = {paint_working(line, rates, words)};
  if (line.beads_kg > 0) {
    all.push_back(
        {"beads",
         fmt::format("{} of paint x {:.3g} {} = {}", words.volume(line.paint_l),
                     words.us ? *rates.beads_kg_per_l * kLitresPerGallon / kKilogramsPerPound : *rates.beads_kg_per_l,
                     words.us ? "lb/gal" : "kg/l", words.mass(line.beads_kg)),
         {"paint.beads"}});
  }
  if (line.action == Action::grind_and_repaint) add_grinding(all, line, rates, words);
  all.push_back({"cleaning",
                 fmt::format("{} / {} = {:.2f} h", words.area(line.clean_m2),
                             words.pace_of_area(rates.cleaning_m2_per_h), line.clean_h),
                 {"preparation.cleaning"}});
  if (line.dry_h > 0) {
    all.push_back({"drying the pavement",
                   fmt::format("{} / {} = {:.2f} h", words.area(line.clean_m2),
                               words.pace_of_area(*rates.surface_drying_m2_per_h), line.dry_h),
                   {"preparation.surface_drying"}});
  }
  if (line.mask_h > 0) {
    all.push_back({"masking",
                   fmt::format("{} of outline / {} = {:.2f} h", words.length(line.masking_m),
                               words.pace_of_length(rates.masking_m_per_h), line.mask_h),
                   {"preparation.masking", "preparation.masked_kinds"}});
  }
  all.push_back(painting_working(line, rates, words));
  return all;
}

}  // namespace lotwear
