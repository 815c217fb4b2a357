#include "tally/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace lotwear {
namespace {

double gallons(double area_sqft, double mil) {
  return wet_paint_l(area_sqft * kSquareMetresPerSquareFoot, mil * kMetresPerMil) / kLitresPerGallon;
}
double gallons_a_mile(double width_in, double mil) { return gallons(5280 * width_in / 12, mil); }

// Arithmetic: 231 cu in a US gallon make 1604.17 sq ft at 1 mil.
TEST(Coverage, AGallonCovers1604SquareFeetAt1Mil) {
  EXPECT_NEAR(1 / gallons(1, 1), 1604.17, 0.01);
  EXPECT_NEAR(1 / gallons(1, 15), 106.9, 0.05);
  EXPECT_NEAR(1 / gallons(4.0 / 12, 15), 320.8, 0.05);  // feet of 4 in line
}

// Ohio CMS 2010, 643.04: gallons a mile at 15 mil, and 0.94 gal per 100 sq ft.
TEST(Coverage, AgreesWithThePublishedGallonsAMileAt15Mil) {
  const std::vector<std::pair<double, double>> table = {{4, 16}, {6, 24}, {8, 32}, {12, 48}, {24, 96}};
  for (const auto& [width_in, published] : table)
    EXPECT_NEAR(gallons_a_mile(width_in, 15) / published, 1, 0.03) << width_in;
  EXPECT_NEAR(gallons(100, 15), 0.94, 0.005);
}

// Ohio CMS 2010, 646.05: gallons a mile at 20 mil.
TEST(Coverage, AgreesWithThePublishedGallonsAMileAt20Mil) {
  const std::vector<std::pair<double, double>> table = {{4, 22}, {6, 33}, {8, 44}, {12, 66}, {24, 132}};
  for (const auto& [width_in, published] : table)
    EXPECT_NEAR(gallons_a_mile(width_in, 20) / published, 1, 0.01) << width_in;
}

// UFGS 02761N: 105 +/- 5 sq ft a gallon, which is about 15 mil.
TEST(Coverage, FifteenMilLieInsideThePublishedPaintRate) {
  EXPECT_GE(1 / gallons(1, 15), 100);
  EXPECT_LE(1 / gallons(1, 15), 110);
  EXPECT_NEAR(1 / gallons(105, 1.0), 15.28, 0.01);
}

TEST(Units, AreExactByDefinition) {
  EXPECT_DOUBLE_EQ(unit_named("in")->size, 0.0254);
  EXPECT_DOUBLE_EQ(unit_named("mile")->size, 1609.344);
  EXPECT_NEAR(unit_named("gal")->size, 3.785411784, 1e-12);
  EXPECT_DOUBLE_EQ(unit_named("sq yd")->size, 0.83612736);
  EXPECT_DOUBLE_EQ(unit_named("lb")->size, 0.45359237);
  EXPECT_FALSE(unit_named("furlong"));
}

TEST(Units, ThereAndBackAgain) {
  for (const Measure of : {Measure::length, Measure::area, Measure::volume, Measure::mass, Measure::time}) {
    ASSERT_FALSE(unit_names(of).empty());
    for (const std::string_view name : unit_names(of)) {
      const Unit unit = *unit_named(name);
      EXPECT_EQ(unit.of, of);
      for (const double amount : {0.01, 1.0, 123.45, 98765.0}) {
        EXPECT_NEAR(amount * unit.size / unit.size, amount, 1e-9 * amount) << name;
      }
    }
  }
}

TEST(ReadAmount, TakesANumberAndItsUnit) {
  const auto film = read_amount("15 mil");
  ASSERT_TRUE(film);
  EXPECT_EQ(film->value, 15);
  EXPECT_EQ(film->unit, "mil");
  EXPECT_EQ(film->per, "");
  const auto price = read_amount(" 42.50 USD/sq ft ");
  ASSERT_TRUE(price);
  EXPECT_EQ(price->decimal, "42.50");
  EXPECT_EQ(price->unit, "USD");
  EXPECT_EQ(price->per, "sq ft");
  EXPECT_EQ(read_amount("15 min each")->per, "each");
  EXPECT_EQ(read_amount("15min/each")->unit, "min");
}

TEST(ReadAmount, RefusesEverythingElse) {
  for (const char* text : {"", "15", "mil", "-5 mil", "1,500 ft", "1.2.3 ft", "15. mil", ".5 mil", "1e3 ft", "5 USD/",
                           "5 /ft", "12345678901234567890 ft", "0x10 ft"}) {
    const auto read = read_amount(text);
    // What looks like a unit is refused by its name.
    EXPECT_TRUE(!read || !unit_named(read->unit)) << text;
  }
}

TEST(Hundredths, AreExact) {
  EXPECT_EQ(hundredths("0.29"), 29);
  EXPECT_EQ(hundredths("19.9"), 1990);
  EXPECT_EQ(hundredths("150"), 15000);
  EXPECT_EQ(hundredths("999999999.99"), 99999999999);
  EXPECT_FALSE(hundredths("0.355"));
  EXPECT_FALSE(hundredths("1000000000"));
}

}  // namespace
}  // namespace lotwear
