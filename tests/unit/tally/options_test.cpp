// The same survey priced three times.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "support/sample_survey.hpp"
#include "tally/tally.hpp"
#include "tally/work.hpp"

namespace lotwear {
namespace {

using samples::peeling_arrow;
using samples::stall_line;
using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::UnorderedElementsAre;

Rates example_rates() { return load_rates(std::filesystem::path(LOTWEAR_MODELS) / "rates.json"); }

SurveyMarking sound(SurveyMarking marking) {
  marking.condition.remaining = samples::about(0.97, 0.01);
  marking.condition.loss = {{0.03}, {0}, {0}};
  marking.condition.flaked = {};
  marking.decision = decide(marking.condition, marking.kind, Policy{});
  return marking;
}

/// A worn stall line (0.5), a worn fire lane line (red, 1.0), a peeling arrow (0.9), a sound stall line.
Survey mixed_lot() {
  Survey lot = samples::small_lot();
  SurveyMarking fire_lane = stall_line("M002", 300);
  fire_lane.condition.colour = Colour::red;
  lot.markings = {stall_line("M001"), fire_lane, peeling_arrow("M003"), sound(stall_line("M004", 700))};
  lot.policy_json = "null";
  return lot;
}

std::vector<std::string> worked(const Estimate& sum) {
  std::vector<std::string> ids;
  for (const QuantityLine& line : sum.quantities) {
    if (line.action == Action::no_action) continue;
    ids.insert(ids.end(), line.markings.begin(), line.markings.end());
  }
  return ids;
}

std::vector<std::string> left(const Estimate& sum) {
  std::vector<std::string> ids;
  for (const LeftUndone& one : sum.left_undone)
    ids.push_back(one.id);
  return ids;
}

TEST(Options, TakeWhatTheirNamesSay) {
  const std::vector<Estimate> options = estimate_options(mixed_lot(), example_rates(), {});
  ASSERT_EQ(options.size(), 3U);
  EXPECT_THAT(worked(options[0]), UnorderedElementsAre("M002", "M003"));
  EXPECT_THAT(left(options[0]), ElementsAre("M001", "M004")) << "most urgent first";
  EXPECT_THAT(worked(options[1]), UnorderedElementsAre("M001", "M002", "M003"));
  EXPECT_THAT(left(options[1]), ElementsAre("M004"));
  EXPECT_THAT(worked(options[2]), UnorderedElementsAre("M001", "M002", "M003", "M004"));
  EXPECT_THAT(left(options[2]), IsEmpty());
}

TEST(Options, MoreWorkNeverCostsLess) {
  Rates rates = example_rates();
  rates.minimum_cents = 0;
  const std::vector<Estimate> options = estimate_options(mixed_lot(), rates, {});
  EXPECT_LT(options[0].subtotal_cents, options[1].subtotal_cents);
  EXPECT_LT(options[1].subtotal_cents, options[2].subtotal_cents);
  EXPECT_LE(options[0].crew_h, options[1].crew_h);
}

TEST(Options, EveryMarkingIsDoneOrLeft) {
  for (const Estimate& option : estimate_options(mixed_lot(), example_rates(), {}))
    EXPECT_EQ(worked(option).size() + left(option).size(), 4U);
}

TEST(Options, TheThresholdOfSafetyIsTheRates) {
  Rates rates = example_rates();
  rates.safety_from = 1.0;
  EXPECT_THAT(worked(estimate_options(mixed_lot(), rates, {})[0]), ElementsAre("M002"));
}

TEST(Coats, ArePeoplesCountElseWhatShows) {
  SurveyMarking line = stall_line("M001");
  EXPECT_EQ(coats_on(line, Policy{}), 1);
  EXPECT_EQ(coats_on(peeling_arrow("M002"), Policy{}), 2) << "an older coat shows";
  line.person_json = R"({"coats": 4})";
  EXPECT_EQ(coats_on(line, Policy{}), 4);
}

TEST(Coats, EachOlderOneTakesAnotherPass) {
  Survey lot = mixed_lot();
  lot.markings = {peeling_arrow("M001")};
  lot.markings[0].person_json = R"({"coats": 1})";
  const QuantityLine one = estimate(lot, example_rates(), Units::metric).quantities.at(0);
  lot.markings[0].person_json = R"({"coats": 4})";
  const QuantityLine four = estimate(lot, example_rates(), Units::metric).quantities.at(0);
  EXPECT_NEAR(four.grind_h, 4 * one.grind_h, 1e-12);
  EXPECT_NEAR(four.debris_l, 4 * one.debris_l, 1e-12);
  EXPECT_EQ(four.grind_m2, one.grind_m2);
}

TEST(Primer, GoesOnGroundConcreteAlone) {
  Survey lot = mixed_lot();
  lot.markings = {peeling_arrow("M001"), peeling_arrow("M002")};
  lot.markings[1].condition.surface = Surface::asphalt;
  const Estimate sum = estimate(lot, example_rates(), Units::metric);
  ASSERT_EQ(sum.quantities.size(), 2U);
  for (const QuantityLine& line : sum.quantities)
    EXPECT_EQ(line.primer_l > 0, line.surface == Surface::concrete);
  Rates rates = example_rates();
  rates.primer.reset();
  EXPECT_EQ(estimate(lot, rates, Units::metric).primer_l, 0);
}

}  // namespace
}  // namespace lotwear
