// What falls on the whole job, and what is left of it.

#include "tally/price.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "support/sample_survey.hpp"
#include "tally/quantities.hpp"
#include "tally/tally.hpp"

namespace lotwear {
namespace {

using samples::peeling_arrow;
using samples::small_lot;
using samples::stall_line;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

Rates example_rates() { return load_rates(std::filesystem::path(LOTWEAR_MODELS) / "rates.json"); }

Survey big_lot() {
  Survey survey = small_lot();
  survey.markings.clear();
  for (int i = 0; i < 30; ++i)
    survey.markings.push_back(i % 5 == 0 ? peeling_arrow("M" + std::to_string(i))
                                         : stall_line("M" + std::to_string(i)));
  return survey;
}

const PriceLine* line_of(const Estimate& sum, PriceOf of) {
  for (const PriceLine& line : sum.prices) {
    if (line.of == of) return &line;
  }
  return nullptr;
}

std::int64_t sum_of(const Estimate& sum, PriceOf of) {
  std::int64_t cents = 0;
  for (const PriceLine& line : sum.prices)
    cents += line.of == of ? line.amount_cents : 0;
  return cents;
}

Estimate priced(const Rates& rates, bool night = false, bool weekend = false) {
  return estimate(big_lot(), rates, {Units::us_customary, BidOption::needs_work, night, weekend});
}

TEST(PriceOfTheJob, NightAndWeekendFallOnLabourAloneAndAddUp) {
  const Rates rates = example_rates();  // 25 % and 15 %
  const Estimate day = priced(rates), night = priced(rates, true), both = priced(rates, true, true);
  const std::int64_t labour = sum_of(day, PriceOf::work);
  EXPECT_EQ(night.subtotal_cents - day.subtotal_cents, (labour * 2500 + 5000) / 10000);
  EXPECT_EQ(sum_of(both, PriceOf::surcharge), (labour * 2500 + 5000) / 10000 + (labour * 1500 + 5000) / 10000);
  ASSERT_NE(line_of(night, PriceOf::surcharge), nullptr);
  EXPECT_EQ(line_of(night, PriceOf::surcharge)->what, "Night work, 25 %");
}

TEST(PriceOfTheJob, TheDiscountComesOffEverythingAboveItButNeverBelowTheMinimum) {
  Rates rates = example_rates();
  const Estimate full = priced(rates);
  rates.discount_hundredths_of_percent = 1250;
  const Estimate less = priced(rates);
  EXPECT_EQ(less.subtotal_cents, full.subtotal_cents - (full.subtotal_cents * 1250 + 5000) / 10000);
  rates.discount_hundredths_of_percent = 10000;
  EXPECT_EQ(priced(rates).subtotal_cents, rates.minimum_cents);
}

TEST(PriceOfTheJob, MaterialsCarryTheMarkUpInTheirUnitPrice) {
  Rates rates = example_rates();
  rates.markup_hundredths_of_percent = 2000;
  EXPECT_EQ(marked_up(2400, rates), 2880);
  const Estimate sum = priced(rates);
  const PriceLine* paint = line_of(sum, PriceOf::material);
  ASSERT_NE(paint, nullptr);
  EXPECT_EQ(paint->what, "Paint, white");
  EXPECT_EQ(paint->unit_price_cents, 2880);
  EXPECT_THAT(paint->formula, HasSubstr("24.00 USD and 20 % on it (prices.markup)"));
}

TEST(PriceOfTheJob, ExtrasByTheJobTheDayTheHourAndTheMarking) {
  Rates rates = example_rates();
  rates.extras = {{"sum", {1000, {"job", Measure::each, 1}, "extras.sum.price"}, {}, false},
                  {"day", {2000, *unit_named("day"), "extras.day.price"}, {}, false},
                  {"hour", {100, *unit_named("h"), "extras.hour.price"}, {}, false},
                  {"ground", {10, *unit_named("each"), "extras.ground.price"}, {}, true}};
  const Estimate sum = priced(rates);
  std::vector<std::int64_t> amounts;
  for (const PriceLine& line : sum.prices) {
    if (line.of == PriceOf::extra) amounts.push_back(line.amount_cents);
  }
  EXPECT_THAT(amounts, ElementsAre(1000, 2000 * sum.plan.days, std::llround(sum.crew_h * 100), 60));
}

TEST(PriceOfTheJob, AFieldIsNamedAsSuchInTheOwnersLines) {
  Survey survey = small_lot();
  survey.markings = {peeling_arrow("M001"), peeling_arrow("M002")};
  survey.markings[0].outline = {{{500, 500}, {600, 500}, {600, 700}, {500, 700}}};
  survey.markings[1].kind = Kind::other;
  const auto names_of = [&](double right) {  // the second one's right side there
    survey.markings[1].outline = {{{450, 450}, {right, 450}, {right, 750}, {450, 750}}};
    std::string names;
    for (const PriceLine& line : estimate(survey, example_rates(), {}).prices)
      names += line.what + "\n";
    return names;
  };
  EXPECT_THAT(names_of(650), HasSubstr("field under a marking"));
  EXPECT_THAT(names_of(550), ::testing::Not(HasSubstr("field under a marking")));  // half of the arrow lies beside it
  EXPECT_THAT(names_of(550), HasSubstr("other marking"));
}

TEST(PriceOfTheJob, ByTheHourTakesTheHoursOfTheTask) {
  Rates rates = example_rates();
  rates.repaint.at("line") = {6000, *unit_named("h"), "prices.repaint.line"};
  rates.grind.at("other") = {9000, *unit_named("h"), "prices.grind.other"};
  const Estimate sum = priced(rates);
  for (const PriceLine& line : sum.prices) {
    if (line.unit != "h" || line.quantity_line < 0) continue;
    const QuantityLine& of = sum.quantities.at(static_cast<std::size_t>(line.quantity_line));
    const double hours = line.quantity_of == QuantityOf::grind_hours ? of.grind_h + of.collect_h
                                                                     : of.hours() - of.grind_h - of.collect_h;
    EXPECT_NEAR(line.quantity, hours, 0.005001) << line.what;
    EXPECT_EQ(line.amount_cents, std::llround(line.quantity * static_cast<double>(line.unit_price_cents)));
  }
  EXPECT_EQ(std::count_if(sum.prices.begin(), sum.prices.end(), [](const PriceLine& line) { return line.unit == "h"; }),
            2);
}

TEST(Margin, IsThePriceBeforeTaxLessWhatItCosts) {
  Rates rates = example_rates();
  rates.tax_hundredths_of_percent = 800;
  const Estimate sum = priced(rates);
  ASSERT_TRUE(sum.margin);
  std::int64_t costs = 0;
  for (const CostLine& line : sum.margin->costs)
    costs += line.cents;
  EXPECT_EQ(costs, sum.margin->cost_cents);
  EXPECT_EQ(sum.margin->margin_cents, sum.subtotal_cents - costs);
  EXPECT_NEAR(static_cast<double>(sum.margin->per_crew_hour_cents),
              static_cast<double>(sum.margin->margin_cents) / sum.crew_h,
              0.006 * static_cast<double>(sum.margin->per_crew_hour_cents));
  EXPECT_NEAR(static_cast<double>(sum.margin->margin_hundredths_of_percent),
              1e4 * static_cast<double>(sum.margin->margin_cents) / static_cast<double>(sum.subtotal_cents), 0.5001);
  rates.costs.reset();
  EXPECT_FALSE(priced(rates).margin);
}

TEST(Margin, StaysOutOfTheOwnersFiles) {
  const Estimate sum = priced(example_rates());
  for (const std::string& text : {estimate_text(sum, {sum}, Copy::owner), estimate_csv(sum, Copy::owner)}) {
    for (const char* word : {"margin\": {", "cost", "costs.person", "prices.markup", "per_crew_hour", "workings"})
      EXPECT_EQ(text.find(word), std::string::npos) << word;
  }
  EXPECT_THAT(estimate_text(sum, {sum}), HasSubstr("per_crew_hour_cents"));
  EXPECT_THAT(estimate_csv(sum), HasSubstr("costs.person"));
}

TEST(Containers, AreRoundedUpToWholeOnesWithTheLeastLeftOver) {
  const std::vector<WrittenAmount> sizes = example_rates().containers;
  const auto bring = [&](double gallons) { return whole_containers(gallons * kLitresPerGallon, sizes); };
  EXPECT_THAT(bring(0.06), ElementsAre("1 x 1 gal"));
  EXPECT_THAT(bring(1.0), ElementsAre("1 x 1 gal"));
  EXPECT_THAT(bring(4.2), ElementsAre("1 x 5 gal")) << "one pail is easier carried than five cans";
  EXPECT_THAT(bring(7), ElementsAre("1 x 5 gal", "2 x 1 gal"));
  EXPECT_THAT(bring(10), ElementsAre("2 x 5 gal"));
  EXPECT_TRUE(bring(0).empty());
}

TEST(Containers, AlwaysHoldEnoughAndNeverACanTooMany) {
  const std::vector<WrittenAmount> sizes = example_rates().containers;
  for (double gallons = 0.01; gallons < 40; gallons += 0.37) {
    double held = 0;
    for (const std::string& words : whole_containers(gallons * kLitresPerGallon, sizes)) {
      int count = 0;
      double size = 0;
      ASSERT_EQ(std::sscanf(words.c_str(), "%d x %lf gal", &count, &size), 2) << words;
      held += count * size;
    }
    EXPECT_GE(held, gallons - 1e-9);
    EXPECT_LT(held - gallons, 1);
  }
}

TEST(Workings, EveryNumberNamesItsFormulaAndItsRates) {
  const Estimate sum = estimate(small_lot(), example_rates(), Units::us_customary);
  for (const QuantityLine& line : sum.quantities) {
    ASSERT_FALSE(line.workings.empty());
    EXPECT_FALSE(line.markings.empty());
    for (const Working& working : line.workings) {
      EXPECT_THAT(working.formula, HasSubstr(" = "));
      EXPECT_FALSE(working.rates.empty()) << working.what;
    }
  }
  // 6 sq ft x 2 lines x 15 mil: 12 / 106.94 x 1.1 = 0.1234 gal.
  const QuantityLine& lines = sum.quantities.front();
  EXPECT_EQ(lines.workings.front().formula, "12.00 sq ft x 15 mil of wet film x 1 coat x (1 + 10 % waste) = 0.12 gal");
}

}  // namespace
}  // namespace lotwear
