#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "tally/rates.hpp"

namespace lotwear {
namespace {

using ::testing::AllOf;
using ::testing::ContainsRegex;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

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
              AllOf(HasSubstr("mine.json: line 22, column 13"), HasSubstr("paint.coat is not a known field")));
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
  EXPECT_THAT(complaint("\"primer\": \"32.00 USD/gal\"", "\"_x\": 0"), HasSubstr("paint.primer asks for primer"));
}

TEST(RatesFile, NamesSenselessWeatherCrewAndShares) {
  EXPECT_THAT(complaint("\"50 F\"", "\"50\""), HasSubstr("weather.lowest"));
  EXPECT_THAT(complaint("\"50 F\"", "\"500 F\""), HasSubstr("is the unit right?"));
  EXPECT_THAT(complaint("\"95 F\"", "\"40 F\""), HasSubstr("above `lowest`"));
  EXPECT_THAT(complaint("\"day\": \"8 h\"", "\"day\": \"2 h\""), HasSubstr("crew.day"));
  EXPECT_THAT(complaint("\"hatching\": \"1 bay\"", "\"hatching\": \"a bay\""), HasSubstr("crew.closes.hatching"));
  EXPECT_THAT(complaint("[\"5 gal\", \"1 gal\"]", "[\"5 gal\", \"1 lb\"]"), HasSubstr("paint.containers"));
  EXPECT_THAT(complaint("\"discount\": \"0 %\"", "\"discount\": \"101 %\""), HasSubstr("job.discount"));
  EXPECT_THAT(
      complaint("\"60.00 USD/day\", \"cost\": \"40.00 USD/day\"", "\"60.00 USD/day\", \"cost\": \"40.00 USD/h\""),
      HasSubstr("same unit"));
  EXPECT_THAT(complaint("\"person\": \"34.00 USD/h\"", "\"person\": \"34.00 USD/day\""), HasSubstr("costs.person"));
  EXPECT_THAT(complaint("\"safety_from\": 0.9", "\"safety_from\": 9"), HasSubstr("options.safety_from"));
}

TEST(RatesFile, ReadsTemperaturesOfEitherScale) {
  const Rates us = read_rates(shipped_with("\"50 F\"", "\"50 F\""), "mine.json");
  EXPECT_NEAR(*us.weather.lowest_c, 10, 1e-12);
  EXPECT_NEAR(*us.weather.above_dew_point_c, 5 / 1.8, 1e-12) << "a difference has no 32 in it";
  EXPECT_NEAR(*read_rates(shipped_with("\"50 F\"", "\"-5 C\""), "mine.json").weather.lowest_c, -5, 1e-12);
}

TEST(RatesFile, ACheckNamesEveryMistakeInOneGo) {
  std::string text = shipped_with("\"15 mil\"", "\"-15 mil\"");
  const auto change = [&](const std::string& part, const std::string& instead) {
    text.replace(text.find(part), part.size(), instead);
  };
  change("\"curb\": \"300 ft/h\"", "\"kerb\": \"300 ft/h\"");
  change("\"0.40 USD/ft\"", "\"0.40 USD\"");
  change("\"minimum\": \"350.00 USD\"", "\"minimum\": 350");
  change("\"set_up\": \"45 min\"", "\"setup\": \"45 min\"");
  const std::vector<std::string> all = rates_complaints(text, "mine.json");
  EXPECT_THAT(all, ElementsAre(HasSubstr("paint.wet_film"), HasSubstr("paint.painting.kerb"), HasSubstr("crew.setup"),
                               HasSubstr("crew.set_up is missing"), HasSubstr("prices.repaint.line"),
                               HasSubstr("job.minimum")));
  for (const std::string& one : all)
    EXPECT_THAT(one, ContainsRegex("^mine.json: line [0-9]+, column [0-9]+: "));
  EXPECT_THAT(rates_complaints(read_file(kShipped), "mine.json"), IsEmpty());
  EXPECT_THAT(rates_complaints("{", "mine.json"), ElementsAre(HasSubstr("not valid JSON")));
}

TEST(RatesFile, AFileWithoutTheLaterSectionsStillReads) {
  std::string text = read_file(kShipped);
  for (const char* section :
       {"\"weather\": {", "\"extras\": {", "\"costs\": {", "\"options\": {", "\"closes\": {", "\"primer\": {"}) {
    const std::size_t at = text.find(section);
    ASSERT_NE(at, std::string::npos) << section;
    text.insert(at + 1, "_");
  }
  const Rates rates = read_rates(text, "old.json");
  EXPECT_FALSE(rates.costs);
  EXPECT_FALSE(rates.primer);
  EXPECT_TRUE(rates.extras.empty());
}

}  // namespace
}  // namespace lotwear
