#include <cstdio>
#include <exception>
#include <iostream>

#include "app/assess.hpp"
#include "app/estimate.hpp"
#include "app/keep_pages.hpp"
#include "app/rates.hpp"
#include "app/report.hpp"
#include "app/review.hpp"
#include "app/scale_sheet.hpp"
#include "base/trouble.hpp"

int main(int argc, char** argv) {
  using namespace lotwear;
  keep_pages();
  CLI::App app(
      "Measures worn pavement markings in photos: what is left, how the rest went, what to do, what it costs.");
  app.set_version_flag("--version", "lotwear " LOTWEAR_VERSION);
  app.require_subcommand(1);
  app.footer(
      "The usual order:\n  lotwear assess PHOTOS\n  lotwear review\n  lotwear estimate\n  lotwear report\n"
      "They share the folder survey where no other is named.");
  AssessOptions assess_options;
  EstimateOptions estimate_options;
  RatesOptions rates_options;
  ReportOptions report_options;
  ReviewOptions review_options;
  ScaleSheetOptions sheet_options;
  const CLI::App* assess_command = add_assess(app, assess_options);
  const CLI::App* review_command = add_review(app, review_options);
  const CLI::App* estimate_command = add_estimate(app, estimate_options);
  const RatesCommands rates_commands = add_rates(app, rates_options);
  const CLI::App* report_command = add_report(app, report_options);
  const CLI::App* sheet_command = add_scale_sheet(app, sheet_options);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : 2;
  }
  try {
    if (*assess_command) assess(assess_options, std::cerr);
    if (*review_command) review(review_options, std::cout);
    if (*estimate_command) estimate(estimate_options);
    if (*rates_commands.fresh) rates_new(rates_options, std::cout);
    if (*rates_commands.check) rates_check(rates_options, std::cout);
    if (*report_command) report(report_options);
    if (*sheet_command) scale_sheet(sheet_options);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "lotwear: %s\n", error.what());
    return 1;
  }
  return 0;
}
