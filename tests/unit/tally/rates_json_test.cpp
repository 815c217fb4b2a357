#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "tally/rates.hpp"

namespace lotwear {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

const std::filesystem::path kShipped = std::filesystem::path(LOTWEAR_MODELS) / "rates.json";

std::string shipped_with(const std::string& part, const std::string& instead) {
  std::string text = read_file(kShipped);
  const std::size_t at = text.find(part);
  EXPECT_NE(at, std::string::npos) << part;
  return at == std::string::npos ? text : text.replace(at, part.size(), instead);
}

std::string complaint(const std::string& part, const std::string& instead) {
  try {
    read_rates(shipped_with(part, instead), "mine.json");
  } catch (const Failure& failure) {
    return failure.what();
  }
  return "no complaint";
}

TEST(RatesFile, TheShippedExampleReads) {
  const Rates rates = load_rates(kShipped);
  EXPECT_EQ(rates.currency, "USD");
  EXPECT_NEAR(rates.wet_film_m, 0.000381, 1e-12);  // 15 mil
  EXPECT_DOUBLE_EQ(rates.waste.value, 0.10);
  EXPECT_FALSE(rates.beads_kg_per_l);
  EXPECT_DOUBLE_EQ(rates.grinding.margin_m, 0.0254);  // Ohio CMS 2010, 646: 1 in on each side
  EXPECT_EQ(for_kind(rates.repaint, Kind::arrow_left)->cents, 2800);
  EXPECT_EQ(for_kind(rates.repaint, Kind::yield_line)->source, "prices.repaint.other");
  EXPECT_TRUE(rates.masked.contains(Kind::arrow_left_right));
  EXPECT_FALSE(rates.masked.contains(Kind::line));
  EXPECT_EQ(rates.minimum_cents, 35000);
}

// Five to ten minutes for traffic paint to dry: common practice, no source.
TEST(RatesFile, TheExampleDriesInFiveToTenMinutes) {
  const double minutes = load_rates(kShipped).drying_h * 60;
  EXPECT_GE(minutes, 5);
  EXPECT_LE(minutes, 10 + 1e-9);
}

TEST(RatesFile, UnitsOfEitherSystemMeanTheSame) {
  const Rates us = load_rates(kShipped);
  const Rates metric = read_rates(shipped_with("\"15 mil\"", "\"381 um\""), "mine.json");
  EXPECT_NEAR(us.wet_film_m, metric.wet_film_m, 1e-12);
  const Rates slow = read_rates(shipped_with("\"75 sq ft/h\"", "\"1.25 sq ft/min\""), "mine.json");
  EXPECT_NEAR(us.grinding.m2_per_h, slow.grinding.m2_per_h, 1e-9);
  // UFGS 02761N: 6 lb of beads a gallon.
  const Rates beads = read_rates(shipped_with("\"beads\": null", "\"beads\": \"6 lb/gal\""), "mine.json");
  EXPECT_NEAR(*beads.beads_kg_per_l, 0.719, 0.001);
}

TEST(RatesFile, NamesUnknownFieldsWithLineAndColumn) {
  EXPECT_THAT(complaint("\"coats\": 1", "\"coat\": 1"),
              AllOf(HasSubstr("mine.json: line 19, column 13"), HasSubstr("paint.coat is not a known field")));
  EXPECT_THAT(complaint("\"curb\": \"300 ft/h\"", "\"kerb\": \"300 ft/h\""),
              HasSubstr("paint.painting.kerb is no kind"));
  EXPECT_THAT(complaint("\"yellow\": \"25", "\"yelow\": \"25"), HasSubstr("prices.paint.yelow is no colour"));
}

TEST(RatesFile, NamesMissingUnits) {
  EXPECT_THAT(complaint("\"15 mil\"", "15"),
              AllOf(HasSubstr("paint.wet_film"), HasSubstr("lacks its unit"), HasSubstr("\"15 mil\"")));
  EXPECT_THAT(complaint("\"15 mil\"", "\"15\""), HasSubstr("number and its unit"));
  EXPECT_THAT(complaint("\"15 mil\"", "\"15 gal\""),
              AllOf(HasSubstr("has the unit \"gal\""), HasSubstr("um, mil, mm")));
  EXPECT_THAT(complaint("\"0.40 USD/ft\"", "\"0.40 USD\""), HasSubstr("lacks what it is the price of"));
  EXPECT_THAT(complaint("\"0.40 USD/ft\"", "0.40"), HasSubstr("prices.repaint.line lacks its unit"));
  EXPECT_THAT(complaint("\"300 ft/h\"", "\"300 ft\""), HasSubstr("lacks its time"));
  EXPECT_THAT(complaint("\"7.50 USD each\"", "\"7.50 USD/ft\""), HasSubstr("prices.repaint_without_size.line"));
}

TEST(RatesFile, NamesNegativeAndSenselessNumbers) {
  EXPECT_THAT(complaint("\"15 mil\"", "\"-15 mil\""), HasSubstr("must not be negative"));
  EXPECT_THAT(complaint("\"15 mil\"", "\"0 mil\""), HasSubstr("more than zero"));
  EXPECT_THAT(complaint("\"15 mil\"", "\"15 in\""), HasSubstr("thicker"));
  EXPECT_THAT(complaint("\"0.40 USD/ft\"", "\"-0.40 USD/ft\""), HasSubstr("must not be negative"));
  EXPECT_THAT(complaint("\"0.40 USD/ft\"", "\"0.405 USD/ft\""), HasSubstr("to the cent"));
  EXPECT_THAT(complaint("\"0.40 USD/ft\"", "\"0.40 EUR/ft\""), HasSubstr("currency is USD"));
  EXPECT_THAT(complaint("\"75 sq ft/h\"", "\"0 sq ft/h\""), HasSubstr("more than zero"));
  EXPECT_THAT(complaint("\"coats\": 1", "\"coats\": 0"), HasSubstr("from 1 to 10"));
  EXPECT_THAT(complaint("\"tax\": \"0 %\"", "\"tax\": \"120 %\""), HasSubstr("job.tax"));
  EXPECT_THAT(complaint("\"people\": 2", "\"people\": 0"), HasSubstr("crew.people"));
}

TEST(RatesFile, NamesWhatIsMissing) {
  EXPECT_THAT(complaint("\"method\": \"wire-wheel\"", "\"method\": \"laser\""), HasSubstr("`methods` does not list"));
  EXPECT_THAT(complaint("\"other\": \"150 sq ft/h\"", "\"_x\": 0"), HasSubstr("paint.painting.other is missing"));
  EXPECT_THAT(complaint("\"drying\": \"10 min\",", ""), HasSubstr("paint.drying is missing"));
  std::string text = shipped_with("\"beads\": null", "\"beads\": \"6 lb/gal\"");
  text.replace(text.find("\"beads\": \"0.70 USD/lb\""), 22, "\"beads\": null");
  EXPECT_THROW(read_rates(text, "mine.json"), Failure);
}

}  // namespace
}  // namespace lotwear
