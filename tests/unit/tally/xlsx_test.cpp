// The workbook: the same bytes every time, text stays text, and the formulas alone come to the estimate, as LibreOffice
// computes them from changed rates.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <sstream>

#include "base/files.hpp"
#include "support/sample_survey.hpp"
#include "support/scratch_folder.hpp"
#include "tally/tally.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;

Survey lot() {
  Survey survey = samples::small_lot();
  survey.markings.clear();
  for (int i = 0; i < 12; ++i) {
    survey.markings.push_back(i % 3 == 0 ? samples::peeling_arrow("M" + std::to_string(i))
                                         : samples::stall_line("M" + std::to_string(i)));
    survey.markings.back().condition.size->length_m *= 1 + 0.137 * i;
    survey.markings.back().condition.size->area_m2 *= 1 + 0.071 * i;
  }
  survey.markings.push_back(samples::stall_line("=1+1"));
  survey.markings.back().condition.size.reset();
  return survey;
}

Rates rates_with(std::int64_t line_cents, double mils) {
  Rates rates = load_rates(fs::path(LOTWEAR_MODELS) / "rates.json");
  rates.repaint.at("line").cents = line_cents;
  rates.wet_film_m = mils * kMetresPerMil;
  rates.beads_kg_per_l = 0.7;
  rates.discount_hundredths_of_percent = 333;
  rates.tax_hundredths_of_percent = 825;
  return rates;
}

const EstimateSettings kNight{Units::us_customary, BidOption::needs_work, true, false};

/// The last number of the row that begins with a word.
double amount_of(const std::string& csv, const std::string& first) {
  std::istringstream lines(csv);
  for (std::string line; std::getline(lines, line);) {
    if (!line.starts_with(first + ",")) continue;
    double last = std::nan("");
    std::istringstream cells(line);
    for (std::string cell; std::getline(cells, cell, ',');) {
      char* end = nullptr;
      const double value = std::strtod(cell.c_str(), &end);
      if (end != cell.c_str() && *end == '\0') last = value;
    }
    return last;
  }
  return std::nan("");
}

TEST(Workbook, IsTheSameBytesEveryTime) {
  const Rates rates = rates_with(40, 15);
  const Estimate sum = estimate(lot(), rates, kNight);
  const std::string first = estimate_xlsx(sum, rates, "2026-04-11");
  EXPECT_EQ(first.substr(0, 2), "PK");
  EXPECT_EQ(estimate_xlsx(sum, rates, "2026-04-11"), first);
}

// The cells of the workbook hold the values of one set of rates, its sheet of rates another: only what recomputes comes
// to the other's estimate.
TEST(Workbook, RecomputesInLibreOfficeWhenARateChanges) {
  if (std::system("command -v soffice >/dev/null 2>&1") != 0) {
    ASSERT_EQ(std::getenv("CI"), nullptr) << "a build server has LibreOffice";
    GTEST_SKIP() << "LibreOffice is not installed, so no formula was recomputed";
  }
  const Rates before = rates_with(40, 15), after = rates_with(95, 20);
  Estimate sum = estimate(lot(), before, kNight);
  const Estimate wanted = estimate(lot(), after, kNight);
  for (PriceLine& line : sum.prices) {
    if (line.rate == "prices.repaint.line") line.unit_price_cents = 95;  // what the sheet of rates says
  }
  const test::ScratchFolder folder;
  folder.put("a.xlsx", estimate_xlsx(sum, after, "2026-04-11"));
  folder.put("home/user/registrymodifications.xcu",
             "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<oor:items xmlns:oor=\"http://openoffice.org/2001/registry\">"
             "<item oor:path=\"/org.openoffice.Office.Calc/Formula/Load\"><prop oor:name=\"OOXMLRecalcMode\" "
             "oor:op=\"fuse\"><value>0</value></prop></item></oor:items>\n");  // always recompute
  const std::string command =
      "cd '" + folder.path().string() + "' && timeout 200 soffice -env:UserInstallation=file://" +
      (folder.path() / "home").string() +
      " --headless --convert-to 'csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1' "
      "a.xlsx >out.txt 2>&1";
  ASSERT_EQ(std::system(command.c_str()), 0) << read_file(folder.path() / "out.txt");
  const std::string prices = read_file(folder.path() / "a-Price.csv");
  EXPECT_NE(wanted.total_cents, sum.total_cents);
  EXPECT_NEAR(amount_of(prices, "Subtotal"), static_cast<double>(wanted.subtotal_cents) / 100, 0.001) << prices;
  EXPECT_NEAR(amount_of(prices, "Tax"), static_cast<double>(wanted.tax_cents) / 100, 0.001);
  EXPECT_NEAR(amount_of(prices, "Total"), static_cast<double>(wanted.total_cents) / 100, 0.001);
  const std::string costs = read_file(folder.path() / "a-Costs.csv");
  EXPECT_NEAR(amount_of(costs, "Margin"), static_cast<double>(wanted.margin->margin_cents) / 100, 0.001) << costs;
  EXPECT_EQ(prices.find("#"), std::string::npos) << "no formula is in error";
  EXPECT_THAT(read_file(folder.path() / "a-Quantities.csv"), HasSubstr("=1+1")) << "a name stays text";
}

TEST(Workbook, TheOwnersHasNoRatesAndNoCosts) {
  const Rates rates = rates_with(40, 15);
  const Estimate sum = estimate(lot(), rates, kNight);
  const std::string owner = estimate_xlsx(sum, rates, "2026-04-11", Copy::owner);
  const std::string contractor = estimate_xlsx(sum, rates, "2026-04-11", Copy::contractor);
  // Names of sheets stand in docProps/app.xml, which is packed; their number shows in the names of the parts.
  EXPECT_NE(contractor.find("xl/worksheets/sheet6.xml"), std::string::npos);
  EXPECT_EQ(owner.find("xl/worksheets/sheet5.xml"), std::string::npos);
  EXPECT_NE(owner.find("xl/worksheets/sheet4.xml"), std::string::npos);
}

}  // namespace
}  // namespace lotwear
