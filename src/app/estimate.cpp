#include "app/estimate.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <iostream>

#include "app/models.hpp"
#include "base/files.hpp"
#include "tally/shown.hpp"
#include "tally/tally.hpp"

namespace lotwear {

namespace {

std::filesystem::path folder_of(const EstimateOptions& options) {
  if (options.folder) return *options.folder;
  if (std::filesystem::is_directory(options.survey)) return options.survey;
  const std::filesystem::path parent = options.survey.parent_path();
  return parent.empty() ? "." : parent;
}

void print_quantities(const Estimate& sum, std::ostream& out) {
  const bool us = sum.units == Units::us_customary;
  fmt::print(out, "{:<24} {:<7} {:<9} {:<18} {:>5} {:>10} {:>10} {:>9} {:>8}\n", "kind", "colour", "surface", "action",
             "count", us ? "length ft" : "length m", us ? "area sqft" : "area m2", us ? "paint gal" : "paint l",
             "hours");
  for (const QuantityLine& line : sum.quantities) {
    fmt::print(out, "{:<24} {:<7} {:<9} {:<18} {:>5} {:>10.1f} {:>10.1f} {:>9.2f} {:>8.2f}\n", word(line.kind),
               word(line.colour), word(line.surface), word(line.action), line.count,
               line.length_m / (us ? kMetresPerFoot : 1), line.area_m2 / (us ? kSquareMetresPerSquareFoot : 1),
               line.paint_l / (us ? kLitresPerGallon : 1), line.clean_h + line.mask_h + line.grind_h + line.paint_h);
  }
}

void print_prices(const Estimate& sum, std::ostream& out) {
  for (const PriceLine& line : sum.prices) {
    fmt::print(out, "{:<52} {:>10.2f} {:<6} x {:>9} {:>12}\n", line.what, line.quantity, line.unit,
               money_text(line.unit_price_cents), money_text(line.amount_cents));
  }
  fmt::print(out, "{:<52} {:>43}\n", "subtotal", money_text(sum.subtotal_cents));
  fmt::print(out, "{:<52} {:>43}\n", "tax", money_text(sum.tax_cents));
  fmt::print(out, "{:<52} {:>43}\n", "total, " + sum.currency, money_text(sum.total_cents));
  fmt::print(out, "{:<52} {:>43.2f}\n", "hours on site (drying not in it)", sum.crew_h);
}

}  // namespace

CLI::App* add_estimate(CLI::App& app, EstimateOptions& options) {
  CLI::App* command = app.add_subcommand("estimate", "Quantities, hours and a price from a survey and your rates");
  command->add_option("survey", options.survey, "survey folder, as assess wrote it")->required();
  command->add_option("--rates", options.rates, "your rates, a copy of models/rates.json with your own figures");
  command->add_option("--units", options.units, "units of the quantities")
      ->check(CLI::IsMember({"us", "metric"}))
      ->capture_default_str();
  command->add_option("-o,--output", options.folder,
                      "folder for estimate.json and estimate.csv; the survey folder if not given");
  return command;
}

void estimate(const EstimateOptions& options, std::ostream& out) {
  const Survey survey = load_survey(options.survey);
  const Rates rates = load_rates(options.rates ? *options.rates : models_folder() / "rates.json");
  const Estimate sum = estimate(survey, rates, options.units == "metric" ? Units::metric : Units::us_customary);
  const std::filesystem::path folder = folder_of(options);
  std::error_code exists_already;
  std::filesystem::create_directories(folder, exists_already);
  write_file(folder / "estimate.json", estimate_text(sum));
  write_file(folder / "estimate.csv", estimate_csv(sum));
  print_quantities(sum, out);
  out << '\n';
  print_prices(sum, out);
  out << '\n';
  for (const std::string& note : sum.notes)
    fmt::print(out, "- {}\n", note);
}

void estimate(const EstimateOptions& options) { estimate(options, std::cout); }

}  // namespace lotwear
