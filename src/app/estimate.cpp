#include "app/estimate.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
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
}

std::string_view option_words(BidOption option) {
  switch (option) {
    case BidOption::safety_only:
      return "only what is a safety matter";
    case BidOption::needs_work:
      return "everything that needs work";
    default:
      return "the full lot";
  }
}

void print_plan(const Estimate& sum, std::ostream& out) {
  const CrewPlan& plan = sum.plan;
  fmt::print(out, "on site {:.2f} h over {} {}, {} {}; one person, one marking at a time: {:.2f} h\n", plan.on_site_h,
             plan.days, plan.days == 1 ? "day" : "days", plan.people, plan.people == 1 ? "person" : "people",
             plan.one_by_one_h);
  for (const PaintLine& line : sum.paint) {
    if (!line.containers.empty())
      fmt::print(out, "bring {} of {} paint\n", fmt::join(line.containers, " and "), word(line.colour));
  }
}

void print_options(const std::vector<Estimate>& options, std::ostream& out) {
  for (const Estimate& option : options) {
    fmt::print(out, "{:<30} {:>12} {}  {:>6.2f} h on site, {} left undone\n", option_words(option.option),
               money_text(option.total_cents), option.currency, option.crew_h, option.left_undone.size());
  }
}

void print_margin(const Margin& margin, const std::string& currency, std::ostream& out) {
  fmt::print(out, "cost {} {}, left over {} ({}), {} for each hour on site: not in the owner's copy\n",
             money_text(margin.cost_cents), currency, money_text(margin.margin_cents),
             share_text(margin.margin_hundredths_of_percent), money_text(margin.per_crew_hour_cents));
}

/// When the last photo was taken; empty when none says.
std::string survey_date(const Survey& survey) {
  std::string last;
  for (const SurveyPhoto& photo : survey.photos)
    last = std::max(last, photo.taken.value_or(""));
  return last;
}

EstimateSettings settings_of(const EstimateOptions& options) {
  EstimateSettings settings;
  settings.units = options.units == "metric" ? Units::metric : Units::us_customary;
  for (const BidOption option : kBidOptions) {
    if (options.option == word(option)) settings.option = option;
  }
  settings.night = options.night;
  settings.weekend = options.weekend;
  return settings;
}

}  // namespace

CLI::App* add_estimate(CLI::App& app, EstimateOptions& options) {
  CLI::App* command = app.add_subcommand("estimate", "Quantities, hours and a price from a survey and your rates");
  command->add_option("survey", options.survey, "survey folder, as assess wrote it")->capture_default_str();
  command->add_option("--rates", options.rates, "your rates, a copy of models/rates.json with your own figures");
  command->add_option("--units", options.units, "units of the quantities")
      ->check(CLI::IsMember({"us", "metric"}))
      ->capture_default_str();
  command->add_option("--option", options.option, "how much of the lot: safety-only, needs-work or full-lot")
      ->check(CLI::IsMember({"safety-only", "needs-work", "full-lot"}))
      ->capture_default_str();
  command->add_flag("--night", options.night, "night work: the rates' surcharge on labour and tools");
  command->add_flag("--weekend", options.weekend, "weekend work: the rates' surcharge on labour and tools");
  command->add_option("--copy", options.copy, "contractor, or owner: without costs, margins and workings")
      ->check(CLI::IsMember({"contractor", "owner"}))
      ->capture_default_str();
  command->footer(
      "Examples:\n  lotwear estimate survey --rates my-rates.json\n"
      "  lotwear estimate survey --rates my-rates.json --option full-lot --night -o bid");
  command->add_option("-o,--output", options.folder,
                      "folder for estimate.json, .csv, .xlsx and markings.geojson; the survey folder if not given");
  return command;
}

void estimate(const EstimateOptions& options, std::ostream& out) {
  const Survey survey = load_survey(options.survey);
  const Rates rates = load_rates(options.rates ? *options.rates : models_folder() / "rates.json");
  const EstimateSettings settings = settings_of(options);
  const Estimate sum = estimate(survey, rates, settings);
  const std::vector<Estimate> all = estimate_options(survey, rates, settings);
  const Copy copy = options.copy == "owner" ? Copy::owner : Copy::contractor;
  const std::filesystem::path folder = folder_of(options);
  std::error_code exists_already;
  std::filesystem::create_directories(folder, exists_already);
  const std::vector<std::pair<const char*, std::string>> made = {
      {"estimate.json", estimate_text(sum, all, copy)},
      {"estimate.csv", estimate_csv(sum, copy)},
      {"estimate.xlsx", estimate_xlsx(sum, rates, survey_date(survey), copy)},
      {"markings.geojson", markings_geojson(survey)}};  // all of them before the first is written
  for (const auto& [name, bytes] : made)
    write_file(folder / name, bytes);
  print_quantities(sum, out);
  out << '\n';
  print_prices(sum, out);
  out << '\n';
  if (!sum.prices.empty()) print_plan(sum, out);
  if (sum.margin && copy == Copy::contractor) print_margin(*sum.margin, sum.currency, out);
  print_options(all, out);
  out << '\n';
  for (const std::string& note : sum.notes)
    fmt::print(out, "- {}\n", note);
}

void estimate(const EstimateOptions& options) { estimate(options, std::cout); }

}  // namespace lotwear
