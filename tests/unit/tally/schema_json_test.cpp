// The published schemas of rates and estimate against what the program reads and writes, and the GeoJSON against RFC
// 7946.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "base/files.hpp"
#include "support/sample_survey.hpp"
#include "support/schema_checker_json.hpp"
#include "support/scratch_folder.hpp"
#include "tally/tally.hpp"

namespace lotwear {
namespace {

using nlohmann::json;
using ::testing::IsEmpty;
using ::testing::Not;

const std::filesystem::path kSchemas = std::filesystem::path(LOTWEAR_MODELS) / "schema";
const std::filesystem::path kShipped = std::filesystem::path(LOTWEAR_MODELS) / "rates.json";

std::string estimate_written(Units units, Copy copy) {
  Rates rates = load_rates(kShipped);
  rates.beads_kg_per_l = 0.7;
  rates.tax_hundredths_of_percent = 825;
  rates.discount_hundredths_of_percent = 500;
  Survey lot = samples::small_lot();
  lot.markings.push_back(samples::stall_line("M004", 1800));
  lot.markings.back().condition.size.reset();
  const EstimateSettings settings{units, BidOption::needs_work, true, true};
  return estimate_text(estimate(lot, rates, settings), estimate_options(lot, rates, settings), copy);
}

TEST(RatesSchema, AcceptsTheShippedRatesAndRefusesWhatTheProgramRefuses) {
  test::SchemaChecker checker(json::parse(read_file(kSchemas / "rates.schema.json")));
  const json good = json::parse(read_file(kShipped));
  EXPECT_THAT(checker.complaints(good), IsEmpty());
  const std::vector<std::pair<const char*, json>> wrongs = {{"/paint/wet_film", 15},
                                                            {"/paint/wet_film", "-15 mil"},
                                                            {"/paint/wet_film", "15 gal"},
                                                            {"/paint/coats", 0},
                                                            {"/paint/painting/kerb", "3 ft/h"},
                                                            {"/prices/repaint/line", "0.40 USD"},
                                                            {"/prices/paint/yelow", "1 USD/gal"},
                                                            {"/job/tax_on", "nothing"},
                                                            {"/crew/closes/line", "a bay"},
                                                            {"/costs/person", "34 USD"},
                                                            {"/unknown", 1},
                                                            {"/currency", "usd"}};
  for (const auto& [pointer, value] : wrongs) {
    json bad = good;
    bad[json::json_pointer(pointer)] = value;
    EXPECT_THAT(checker.complaints(bad), Not(IsEmpty())) << pointer;
    EXPECT_THAT(rates_complaints(bad.dump(), "bad.json"), Not(IsEmpty())) << pointer;
  }
}

TEST(EstimateSchema, AcceptsWhatTheProgramWrites) {
  test::SchemaChecker checker(json::parse(read_file(kSchemas / "estimate.schema.json")));
  for (const Units units : {Units::us_customary, Units::metric}) {
    for (const Copy copy : {Copy::owner, Copy::contractor})
      EXPECT_THAT(checker.complaints(json::parse(estimate_written(units, copy))), IsEmpty());
  }
  EXPECT_THAT(checker.complaints(json::parse(estimate_text(estimate(Survey{}, load_rates(kShipped), Units::metric)))),
              IsEmpty());
}

TEST(EstimateSchema, RefusesOtherThings) {
  test::SchemaChecker checker(json::parse(read_file(kSchemas / "estimate.schema.json")));
  const json good = json::parse(estimate_written(Units::us_customary, Copy::contractor));
  const std::vector<std::pair<const char*, json>> wrongs = {
      {"/total_cents", 12.5},    {"/quantities/0/count", 0},        {"/quantities/0/paint_gal", -1},
      {"/prices/0/of", "bribe"}, {"/options/0/option", "half-lot"}, {"/extra", 1}};
  for (const auto& [pointer, value] : wrongs) {
    json bad = good;
    bad[json::json_pointer(pointer)] = value;
    EXPECT_THAT(checker.complaints(bad), Not(IsEmpty())) << pointer;
  }
}

TEST(Schemas, AFullValidatorAgrees) {
  const test::ScratchFolder folder;
  const std::string estimate = folder.put("estimate.json", estimate_written(Units::us_customary, Copy::contractor));
  const test::Validated said = test::by_full_validator(kSchemas / "estimate.schema.json", estimate);
  if (said == test::Validated::not_installed)
    GTEST_SKIP() << "python3-jsonschema is not installed; the small checker stands alone";
  EXPECT_EQ(said, test::Validated::yes);
  EXPECT_EQ(test::by_full_validator(kSchemas / "rates.schema.json", kShipped), test::Validated::yes);
}

// RFC 7946: 3.3 a FeatureCollection of Features, 3.2 geometry may be null, 3.1.1 longitude before latitude, 4 no crs.
TEST(GeoJson, IsByRfc7946) {
  Survey lot = samples::small_lot();
  lot.photos.push_back(samples::photo("IMG_0002.jpg", 'b'));
  lot.photos.back().position.reset();
  lot.markings[2].photo = "IMG_0002.jpg";
  const json out = json::parse(markings_geojson(lot));
  EXPECT_EQ(out.at("type"), "FeatureCollection");
  EXPECT_FALSE(out.contains("crs"));
  ASSERT_EQ(out.at("features").size(), 3U);
  std::set<std::string> ids;
  for (const json& feature : out.at("features")) {
    EXPECT_EQ(feature.at("type"), "Feature");
    EXPECT_TRUE(feature.at("properties").is_object());
    EXPECT_TRUE(ids.insert(feature.at("id")).second);
    if (feature.at("geometry").is_null()) continue;
    EXPECT_EQ(feature.at("geometry").at("type"), "Point");
    const json& at = feature.at("geometry").at("coordinates");
    ASSERT_EQ(at.size(), 2U);
    EXPECT_DOUBLE_EQ(at[0], -45.25) << "longitude first";
    EXPECT_DOUBLE_EQ(at[1], 12.5);
  }
  EXPECT_TRUE(out.at("features")[2].at("geometry").is_null());
  EXPECT_EQ(out.at("features")[2].at("properties").at("action"), "grind-and-repaint");
}

TEST(GeoJson, LeavesRepeatsOutAndTakesThePersonsWord) {
  Survey lot = samples::small_lot();
  lot.markings[1].same_as = "M001";
  lot.markings[0].person_json = R"({"kind": "stop-line"})";
  const json out = json::parse(markings_geojson(lot));
  ASSERT_EQ(out.at("features").size(), 2U);
  EXPECT_EQ(out.at("features")[0].at("properties").at("kind"), "stop-line");
}

}  // namespace
}  // namespace lotwear
