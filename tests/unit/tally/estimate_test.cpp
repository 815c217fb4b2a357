#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

#include "base/trouble.hpp"
#include "support/sample_survey.hpp"
#include "tally/tally.hpp"

namespace lotwear {
namespace {

using samples::peeling_arrow;
using samples::small_lot;
using samples::stall_line;
using ::testing::AllOf;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

Rates example_rates() { return load_rates(std::filesystem::path(LOTWEAR_MODELS) / "rates.json"); }

/// Without what falls on the whole job, so that a line can be worked out by hand.
Rates bare_rates() {
  Rates rates = example_rates();
  rates.extras.clear();
  rates.markup_hundredths_of_percent = 0;
  rates.minimum_cents = 0;
  return rates;
}

Survey lot_of(std::vector<SurveyMarking> markings) {
  Survey survey = small_lot();
  survey.markings = std::move(markings);
  return survey;
}

Estimate priced(const Survey& survey) { return estimate(survey, example_rates(), Units::us_customary); }

SurveyMarking said(SurveyMarking marking, const std::string& person) {
  marking.person_json = person;
  return marking;
}

SurveyMarking without_size(SurveyMarking marking) {
  marking.condition.size.reset();
  return marking;
}

SurveyMarking sound(SurveyMarking marking) {
  marking.condition.remaining = samples::about(0.97, 0.01);
  marking.condition.loss = {{0.03}, {0}, {0}};
  marking.condition.flaked = {};
  marking.decision = decide(marking.condition, marking.kind, Policy{});
  return marking;
}

std::int64_t amount_of(const Estimate& sum, const std::string& what) {
  for (const PriceLine& line : sum.prices) {
    if (line.what.find(what) != std::string::npos) return line.amount_cents;
  }
  return -1;
}

// A 4 in x 18 ft stall line is 6.00 sq ft; at 15 mil a gallon covers 106.9 sq ft (arithmetic); 10 % waste.
TEST(Estimate, AStallLineTakesThePaintOfSixSquareFeet) {
  const Estimate sum = priced(lot_of({stall_line("M001")}));
  ASSERT_EQ(sum.quantities.size(), 1u);
  const QuantityLine& line = sum.quantities[0];
  EXPECT_EQ(line.action, Action::repaint);
  EXPECT_EQ(line.count, 1);
  EXPECT_NEAR(line.length_m / kMetresPerFoot, 18, 1e-9);
  EXPECT_NEAR(line.area_m2 / kSquareMetresPerSquareFoot, 6, 1e-9);
  EXPECT_NEAR(line.paint_l / kLitresPerGallon, 6 / 106.944 * 1.1, 1e-5);
  EXPECT_EQ(line.grind_m2, 0);
  EXPECT_EQ(line.masking_m, 0) << "lines are sprayed without masking by the example rates";
}

// Ohio CMS 2010, 646: the marking's width and 1 in on each side, so a 4 in line is ground 6 in wide.
TEST(Estimate, A4InchLineIsGround6InchesWide) {
  const Estimate sum = priced(lot_of({said(stall_line("M001"), R"({"action": "grind-and-repaint"})")}));
  const double ends_sqft = 2 * (4.0 / 12) * (1.0 / 12);
  EXPECT_NEAR(sum.quantities[0].grind_m2 / kSquareMetresPerSquareFoot, 18 * 0.5 + ends_sqft, 1e-9);
}

TEST(Estimate, GrindingIsPricedByTheAreaGroundMarginIncluded) {
  const Estimate sum = priced(lot_of({peeling_arrow("M001")}));
  const double ground_sqft = std::round(sum.quantities[0].grind_m2 / kSquareMetresPerSquareFoot * 100) / 100;
  EXPECT_EQ(amount_of(sum, "Grind off"), std::llround(ground_sqft * 350));
}

// About ten minutes for one arrow with a four-inch wire wheel: common practice, no source.
TEST(Estimate, OneArrowOfOneCoatIsGroundInAboutTenMinutes) {
  const Estimate sum = priced(lot_of({said(peeling_arrow("M001"), R"({"coats": 1})")}));
  EXPECT_NEAR(sum.quantities[0].grind_h * 60, 10, 2);
}

TEST(Estimate, AMarkingThatNeedsNothingIsCountedAndCostsNothing) {
  const Estimate sum = priced(lot_of({sound(stall_line("M001"))}));
  EXPECT_EQ(sum.quantities[0].count, 1);
  EXPECT_EQ(sum.quantities[0].paint_l, 0);
  EXPECT_THAT(sum.prices, IsEmpty());
  EXPECT_EQ(sum.total_cents, 0);
  EXPECT_EQ(sum.crew_h, 0);
  const Estimate with = priced(lot_of({stall_line("M002"), sound(stall_line("M001"))}));
  EXPECT_EQ(with.total_cents, priced(lot_of({stall_line("M002")})).total_cents);
}

TEST(Estimate, ARepeatCountsOnce) {
  SurveyMarking again = stall_line("M002");
  again.same_as = "M001";
  const Estimate sum = priced(lot_of({stall_line("M001"), again}));
  EXPECT_EQ(sum.quantities[0].count, 1);
  EXPECT_THAT(sum.quantities[0].markings, ElementsAre("M001"));
}

TEST(Estimate, APersonsSameAsWins) {
  const Estimate sum = priced(lot_of({stall_line("M001"), said(stall_line("M002"), R"({"same_as": "M001"})")}));
  EXPECT_EQ(sum.quantities[0].count, 1);
}

TEST(Estimate, ARepeatOfNothingKnownIsCountedAndSaid) {
  SurveyMarking stray = stall_line("M001");
  stray.same_as = "M099";
  const Estimate sum = priced(lot_of({stray}));
  EXPECT_EQ(sum.quantities[0].count, 1);
  EXPECT_THAT(sum.notes, Contains(HasSubstr("M099, which is not in the survey")));
}

TEST(Estimate, ACircleOfRepeatsIsCountedOnce) {
  SurveyMarking a = stall_line("M001"), b = stall_line("M002"), c = stall_line("M003"), d = stall_line("M004");
  a.same_as = "M002";
  b.same_as = "M003";
  c.same_as = "M002";
  d.same_as = "M004";
  const Estimate sum = priced(lot_of({a, b, c, d}));
  EXPECT_THAT(sum.quantities[0].markings, ElementsAre("M002", "M004"));
  EXPECT_THAT(sum.notes, Contains(HasSubstr("in a circle")));
}

TEST(Estimate, ThePersonsWordWins) {
  const Estimate sum = priced(lot_of({said(peeling_arrow("M001"), R"({"action": "no-action"})"),
                                      said(stall_line("M002"), R"({"kind": "stop-line", "colour": "red"})")}));
  ASSERT_EQ(sum.quantities.size(), 2u);
  EXPECT_EQ(sum.quantities[0].kind, Kind::stop_line);
  EXPECT_EQ(sum.quantities[0].colour, Colour::red);
  EXPECT_EQ(sum.quantities[1].action, Action::no_action);
}

TEST(Estimate, WithoutSizeAMarkingIsCountedAndPricedEachWhereTheRatesAllow) {
  const Estimate sum = priced(lot_of({stall_line("M001"), without_size(stall_line("M002", 400))}));
  ASSERT_EQ(sum.quantities.size(), 1u);
  EXPECT_EQ(sum.quantities[0].count, 2);
  EXPECT_EQ(sum.quantities[0].without_size, 1);
  EXPECT_EQ(amount_of(sum, "Repaint 1 white line on asphalt, size not known"), 750);
  EXPECT_THAT(sum.notes, Contains(HasSubstr("Counted without sizes, because their photos have no scale: M002")));
}

TEST(Estimate, WithoutSizeAndWithoutAPriceEachItIsNamed) {
  SurveyMarking hatching = without_size(stall_line("M001"));
  hatching.kind = Kind::hatching;
  const Estimate sum = priced(lot_of({hatching}));
  EXPECT_EQ(sum.quantities[0].count, 1);
  EXPECT_THAT(sum.notes,
              Contains(AllOf(HasSubstr("Not priced"), HasSubstr("M001"), HasSubstr("repaint_without_size"))));
}

TEST(Estimate, ArrowsPricedEachNeedNoSize) {
  SurveyMarking worn = without_size(stall_line("M001"));
  worn.kind = Kind::arrow_left;
  EXPECT_EQ(amount_of(priced(lot_of({worn})), "Repaint 1 white left arrow"), 2800);
}

TEST(Estimate, WhatNeedsALookIsNamed) {
  SurveyMarking open = stall_line("M001");
  open.condition.remaining = samples::about(0.85, 0.04);
  open.decision = decide(open.condition, open.kind, Policy{});
  EXPECT_THAT(
      priced(lot_of({open, stall_line("M002", 400)})).notes,
      Contains(AllOf(HasSubstr("Look at these before the price stands"), HasSubstr("M001"), Not(HasSubstr("M002")))));
}

TEST(Price, RaisesASmallJobToTheMinimumAndNoFarther) {
  const Estimate small = priced(lot_of({stall_line("M001")}));
  EXPECT_EQ(small.subtotal_cents, 35000);
  const Estimate bare = estimate(lot_of({stall_line("M001")}), bare_rates(), Units::us_customary);
  EXPECT_EQ(bare.subtotal_cents, 18 * 40 + 144 + 12000);  // 18 ft x 0.40; 0.0617 gal shown as 0.06 x 24.00 = 1.44
}

TEST(Price, TaxFallsOnEverythingOrOnMaterials) {
  Rates rates = example_rates();
  rates.tax_hundredths_of_percent = 825;
  const Survey lot = small_lot();
  const Estimate everything = estimate(lot, rates, Units::us_customary);
  EXPECT_EQ(everything.tax_cents, (everything.subtotal_cents * 825 + 5000) / 10000);
  EXPECT_EQ(everything.total_cents, everything.subtotal_cents + everything.tax_cents);
  rates.tax_on = TaxOn::materials;
  const Estimate materials = estimate(lot, rates, Units::us_customary);
  std::int64_t paint = 0;
  for (const PriceLine& line : materials.prices) {
    if (line.of == PriceOf::material) paint += line.amount_cents;
  }
  EXPECT_GT(paint, 0);
  EXPECT_EQ(materials.tax_cents, (paint * 825 + 5000) / 10000);
}

TEST(Price, AddsUpOnPaper) {
  for (int count = 1; count <= 40; count += 3) {
    std::vector<SurveyMarking> markings;
    for (int i = 0; i < count; ++i) {
      SurveyMarking marking = i % 3 == 0 ? peeling_arrow("M" + std::to_string(i)) : stall_line("M" + std::to_string(i));
      marking.condition.size->length_m *= 1 + 0.137 * i;
      marking.condition.size->area_m2 *= 1 + 0.071 * i;
      markings.push_back(marking);
    }
    const Estimate sum = priced(lot_of(markings));
    std::int64_t lines = 0;
    for (const PriceLine& line : sum.prices) {
      lines += line.amount_cents;
      const auto hundredths_of_unit = std::llround(line.quantity * 100);
      EXPECT_EQ(line.amount_cents, (hundredths_of_unit * line.unit_price_cents + 50) / 100) << line.what;
    }
    EXPECT_EQ(lines, sum.subtotal_cents);
    EXPECT_EQ(sum.subtotal_cents + sum.tax_cents, sum.total_cents);
  }
}

TEST(Price, RoundsHalvesAwayFromZero) {
  Rates rates = example_rates();
  rates.minimum_cents = rates.mobilisation_cents = 0;
  SurveyMarking line = stall_line("M001");
  line.condition.size->length_m = 0.25 * kMetresPerFoot;
  rates.repaint.at("line").cents = 2;  // 0.25 ft x 2 cents = half a cent
  EXPECT_EQ(amount_of(estimate(lot_of({line}), rates, Units::us_customary), "Repaint"), 1);
  rates.repaint.at("line").cents = 1;
  EXPECT_EQ(amount_of(estimate(lot_of({line}), rates, Units::us_customary), "Repaint"), 0);
}

TEST(Price, BeyondAnyJobIsRefused) {
  Survey lot = small_lot();
  lot.markings[0].condition.size->length_m = 1e15;
  lot.markings[0].condition.size->area_m2 = 1e15;
  EXPECT_THROW(priced(lot), Failure);
}

TEST(Law, TheWholeIsTheSumOfItsParts) {
  const std::vector<SurveyMarking> all = {stall_line("M001"), stall_line("M002"), peeling_arrow("M003"),
                                          said(stall_line("M004"), R"({"action": "grind-and-repaint"})")};
  const auto total = [](const Estimate& sum, double QuantityLine::*number) {
    double value = 0;
    for (const QuantityLine& line : sum.quantities)
      value += line.*number;
    return value;
  };
  const Estimate whole = priced(lot_of(all));
  for (const auto number :
       {&QuantityLine::length_m, &QuantityLine::area_m2, &QuantityLine::perimeter_m, &QuantityLine::masking_m,
        &QuantityLine::paint_l, &QuantityLine::grind_m2, &QuantityLine::clean_h, &QuantityLine::mask_h,
        &QuantityLine::grind_h, &QuantityLine::paint_h}) {
    double parts = 0;
    for (const SurveyMarking& one : all)
      parts += total(priced(lot_of({one})), number);
    EXPECT_NEAR(total(whole, number), parts, 1e-9);
  }
  double paint = 0;
  for (const PaintLine& colour : whole.paint)
    paint += colour.paint_l;
  EXPECT_NEAR(paint, total(whole, &QuantityLine::paint_l), 1e-12);
}

TEST(Law, TheOrderOfTheMarkingsChangesNoPrice) {
  Survey lot = small_lot();
  const Estimate before = priced(lot);
  std::reverse(lot.markings.begin(), lot.markings.end());
  const Estimate after = priced(lot);
  EXPECT_EQ(after.total_cents, before.total_cents);
  EXPECT_EQ(after.quantities.size(), before.quantities.size());
}

TEST(Law, MoreWearNeverCostsLess) {
  std::int64_t before = 0;
  double hours = 0;
  for (int lost = 0; lost <= 60; ++lost) {
    SurveyMarking arrow = peeling_arrow("M001");
    const double flaked = lost / 100.0;
    arrow.condition.remaining = samples::about(1 - flaked, 0);
    arrow.condition.loss = {{0}, {flaked}, {0}};
    arrow.condition.flaked = samples::about(flaked, 0);
    arrow.condition.older_coat = {};
    arrow.decision = decide(arrow.condition, arrow.kind, Policy{});
    Rates rates = example_rates();
    rates.minimum_cents = 0;
    const Estimate sum = estimate(lot_of({arrow}), rates, Units::us_customary);
    EXPECT_GE(sum.total_cents, before) << lost;
    EXPECT_GE(sum.person_h, hours) << lost;
    before = sum.total_cents;
    hours = sum.person_h;
  }
  EXPECT_GT(before, 0);
}

TEST(Law, TwiceTheCoatsTakeTwiceThePaintAndDrying) {
  Rates rates = example_rates();
  const Estimate once = estimate(small_lot(), rates, Units::us_customary);
  rates.coats = 2;
  const Estimate twice = estimate(small_lot(), rates, Units::us_customary);
  EXPECT_NEAR(twice.paint.at(0).paint_l, 2 * once.paint.at(0).paint_l, 1e-12);
  EXPECT_NEAR(twice.drying_h, 2 * once.drying_h, 1e-12);
}

TEST(Law, UnitsChangeNothingButTheNumbersShown) {
  const Estimate us = priced(small_lot());
  const Estimate metric = estimate(small_lot(), example_rates(), Units::metric);
  EXPECT_EQ(us.total_cents, metric.total_cents);
  EXPECT_EQ(us.quantities[0].area_m2, metric.quantities[0].area_m2);
  EXPECT_THAT(estimate_text(us), AllOf(HasSubstr("\"area_sqft\""), Not(HasSubstr("\"area_m2\""))));
  EXPECT_THAT(estimate_text(metric), AllOf(HasSubstr("\"area_m2\""), Not(HasSubstr("\"area_sqft\""))));
}

// UFGS 02761N: 6 lb of beads a gallon.
TEST(Estimate, BeadsAreCountedWhereAsked) {
  Rates rates = example_rates();
  rates.beads_kg_per_l = 6 * kKilogramsPerPound / kLitresPerGallon;
  const Estimate sum = estimate(small_lot(), rates, Units::us_customary);
  EXPECT_NEAR(sum.paint[0].beads_kg / kKilogramsPerPound, 6 * sum.paint[0].paint_l / kLitresPerGallon, 1e-9);
  EXPECT_GT(amount_of(sum, "Glass beads"), 0);
  EXPECT_EQ(amount_of(priced(small_lot()), "Glass beads"), -1);
}

TEST(Estimate, TheHoursOnSiteAreThoseOfTheCrewPlan) {
  const Estimate sum = priced(small_lot());
  EXPECT_EQ(sum.crew_h, sum.plan.on_site_h);
  EXPECT_GT(sum.crew_h, sum.plan.people > 1 ? sum.person_h / sum.plan.people : sum.person_h);
}

TEST(Reviewed, FalseAlarmsCountNowhereAndTheNotesSayWhoConfirmedWhat) {
  Survey survey = lot_of({stall_line("M001"), stall_line("M002"), stall_line("M003")});
  survey.markings[0].person_json = R"({"confirmed": true})";
  survey.markings[1].person_json = R"({"false_alarm": true})";
  survey.markings[2].person_json = R"({"same_as": "M002"})";
  const Estimate sum = estimate(survey, bare_rates(), EstimateSettings{});
  ASSERT_EQ(sum.quantities.size(), 1U);
  EXPECT_EQ(sum.quantities[0].count, 2) << "the same as a false alarm is still one";
  EXPECT_THAT(sum.notes, Contains("Confirmed by a person: M001."));
  EXPECT_THAT(sum.notes, Contains("M003 is said to repeat M002, which a person struck out; it is counted"));
}

TEST(Reviewed, ADrawnOutlineIsPricedByItsOwnSize) {
  Survey survey = lot_of({stall_line("M001")});
  Condition again = survey.markings[0].condition;
  again.size->area_m2 *= 2;
  survey.markings[0].person_json =
      R"({"outline": [[[1, 2], [30, 4], [5, 60]]], "measured": )" + condition_text(again) + "}";
  const Estimate sum = estimate(survey, bare_rates(), EstimateSettings{});
  EXPECT_NEAR(sum.quantities.at(0).area_m2, 2 * 0.1016 * 5.4864, 1e-3);
}

}  // namespace
}  // namespace lotwear
