// Worked examples out of published handbooks, from a survey to the numbers on paper. Each names its source.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "support/sample_survey.hpp"
#include "tally/crew_plan.hpp"
#include "tally/tally.hpp"

namespace lotwear {
namespace {

constexpr double kFeetAMile = 5280;

Rates plain_rates(double mils) {
  Rates rates = load_rates(std::filesystem::path(LOTWEAR_MODELS) / "rates.json");
  rates.wet_film_m = mils * kMetresPerMil;
  rates.waste = {};
  rates.coats = 1;
  return rates;
}

/// One line of some width in inches and some feet, worn enough to be repainted.
QuantityLine line_of(double inches, double feet, const Rates& rates) {
  Survey lot = samples::small_lot();
  SurveyMarking line = samples::stall_line("M001");
  const double length = feet * kMetresPerFoot, width = inches * kMetresPerInch;
  line.condition.size = Size{length * width, length, width, 2 * (length + width), {0.01}};
  lot.markings = {line};
  return estimate(lot, rates, Units::us_customary).quantities.at(0);
}

double gallons_a_mile(double mils, double inches) {
  return line_of(inches, kFeetAMile, plain_rates(mils)).paint_l / kLitresPerGallon;
}

// Ohio CMS 2010, 643.04, polyester at 15 mil: 16, 24, 32, 48 and 96 gallons a mile for 4, 6, 8, 12 and 24 in. The book
// rounds 16.46 down to 16 and multiplies on from there: 3 %.
TEST(Handbook, OhioGallonsAMileAt15Mil) {
  for (const auto& [inches, gallons] : {std::pair{4.0, 16.0}, {6.0, 24.0}, {8.0, 32.0}, {12.0, 48.0}, {24.0, 96.0}})
    EXPECT_NEAR(gallons_a_mile(15, inches), gallons, 0.03 * gallons) << inches << " in";
}

// Ohio CMS 2010, 646.05, epoxy at 20 mil: 22, 33, 44, 66, 132 gallons a mile; 21.94 by arithmetic.
TEST(Handbook, OhioGallonsAMileAt20Mil) {
  for (const auto& [inches, gallons] : {std::pair{4.0, 22.0}, {6.0, 33.0}, {8.0, 44.0}, {12.0, 66.0}, {24.0, 132.0}})
    EXPECT_NEAR(gallons_a_mile(20, inches), gallons, 0.005 * gallons) << inches << " in";
}

// Ohio CMS 2010, 643.04: areas and words 0.94 gallon a 100 sq ft.
TEST(Handbook, OhioGallonsA100SquareFeet) {
  EXPECT_NEAR(line_of(12, 100, plain_rates(15)).paint_l / kLitresPerGallon, 0.94, 0.006);
}

// UFGS 02761N, 02763A: 105 +/- 5 sq ft a gallon. The shipped film of 15 mil lies inside.
TEST(Handbook, UfgsSquareFeetAGallon) {
  const QuantityLine line = line_of(12, 1000, plain_rates(15));
  EXPECT_NEAR((line.area_m2 / kSquareMetresPerSquareFoot) / (line.paint_l / kLitresPerGallon), 105, 5);
}

// UFGS 02761N, 02763A: 6 +/- 0.5 lb of beads a gallon on roads and streets.
TEST(Handbook, UfgsBeadsForAMileOf4InchLine) {
  Rates rates = plain_rates(15);
  rates.beads_kg_per_l = 6 * kKilogramsPerPound / kLitresPerGallon;
  const QuantityLine line = line_of(4, kFeetAMile, rates);
  EXPECT_NEAR(line.beads_kg / kKilogramsPerPound, 16.46 * 6, 0.5);
}

// Ohio CMS 2010, 646: removal is the marking's width and 1 in on each side; 100 ft of 4 in line make 50 sq ft.
TEST(Handbook, OhioRemovalWidth) {
  Survey lot = samples::small_lot();
  SurveyMarking line = samples::stall_line("M001");
  const double length = 100 * kMetresPerFoot, width = 4 * kMetresPerInch;
  line.condition.size = Size{length * width, length, width, 2 * (length + width), {0.01}};
  line.person_json = R"({"action": "grind-and-repaint"})";
  lot.markings = {line};
  const Estimate sum = estimate(lot, plain_rates(15), Units::us_customary);
  EXPECT_NEAR(sum.quantities.at(0).grind_m2 / kSquareMetresPerSquareFoot, 50, 0.1);
}

// MIL-HDBK-1110: pavement 5 F above the dew point. Dew point of air at 20 C and 50 %: 9.3 C; at 25 C and 60 %: 16.7 C
// (psychrometric tables, from memory).
TEST(Handbook, DewPoint) {
  EXPECT_NEAR(dew_point_c(20, 50), 9.3, 0.1);
  EXPECT_NEAR(dew_point_c(25, 60), 16.7, 0.1);
  EXPECT_NEAR(dew_point_c(12, 100), 12, 1e-9) << "saturated air is at its dew point";
  const auto coldest = coldest_pavement({10.0, {}, 5.0 / 1.8, {}, {}}, Units::us_customary);
  for (const auto& one : coldest) {
    EXPECT_GE(one.pavement_c, one.dew_point_c + 5.0 / 1.8 - 1e-9);
    EXPECT_GE(one.pavement_c, 10) << "never below the paint's own limit";
  }
}

// A gallon of 15 mil paint does about 320 ft of 4 in line: common practice, no source (320.8 by arithmetic).
TEST(RuleOfThumb, AGallonDoes320FeetOfLine) {
  EXPECT_NEAR(320 / (line_of(4, 320, plain_rates(15)).paint_l / kLitresPerGallon), 320, 2);
}

// One person grinds an arrow with a wire wheel in about ten minutes: common practice, no source.
TEST(RuleOfThumb, AnArrowIsGroundInAboutTenMinutes) {
  Survey lot = samples::small_lot();
  lot.markings = {samples::peeling_arrow("M001")};
  lot.markings[0].person_json = R"({"coats": 1})";
  EXPECT_NEAR(60 * estimate(lot, plain_rates(15), Units::us_customary).quantities.at(0).grind_h, 10, 2);
}

}  // namespace
}  // namespace lotwear
