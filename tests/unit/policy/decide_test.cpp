#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "policy/policy.hpp"
#include "policy/tape_pull.hpp"

namespace lotwear {
namespace {

using namespace literals;
using ::testing::AnyOf;
using ::testing::Contains;
using ::testing::DoubleNear;
using ::testing::ElementsAre;
using ::testing::Gt;
using ::testing::HasSubstr;
using ::testing::Lt;
using ::testing::Not;

Interval exactly(Fraction share) { return {share, share, share}; }
Interval about(Fraction share, Fraction give) { return {share - give, share, share + give}; }

/// Worn off the stone tops, nothing else wrong; every number known exactly.
Condition worn(Fraction remaining) {
  Condition seen;
  seen.colour = Colour::yellow;
  seen.surface = Surface::concrete;
  seen.remaining = exactly(remaining);
  seen.any_coat = remaining;
  seen.loss.abraded = 100_percent - remaining;
  return seen;
}

Condition flaked(Fraction share) {
  Condition seen = worn(100_percent - share);
  seen.loss = {0_percent, share, 0_percent};
  seen.flaked = exactly(share);
  return seen;
}

Action action_of(const Condition& seen) { return decide(seen, Kind::line, Policy{}).action; }

TEST(Decide, LeavesFreshPaintAlone) {
  const Decision decision = decide(worn(97_percent), Kind::line, Policy{});
  EXPECT_EQ(decision.action, Action::no_action);
  EXPECT_DOUBLE_EQ(decision.action_confidence, 1);
  EXPECT_FALSE(decision.needs_review);
  EXPECT_THAT(decision.reasons, ElementsAre(HasSubstr("97 % of the paint is left")));
}

TEST(Decide, RepaintsBelow85PercentAndNotAt85) {
  EXPECT_EQ(action_of(worn(85_percent)), Action::no_action);
  EXPECT_EQ(action_of(worn(84.9_percent)), Action::repaint);
  EXPECT_EQ(action_of(worn(63_percent)), Action::repaint);
  EXPECT_THAT(decide(worn(63_percent), Kind::line, Policy{}).reasons, ElementsAre("only 63 % of the paint is left"));
}

TEST(Decide, ShowsTenthsWhereTheWholeNumberWouldHideTheSide) {
  EXPECT_THAT(decide(worn(84.6_percent), Kind::line, Policy{}).reasons, ElementsAre(HasSubstr("84.6 %")));
}

TEST(Decide, RepaintsFadedPaintOver25PercentAndNotAt25) {
  Condition seen = worn(95_percent);
  seen.faded = exactly(25_percent);
  EXPECT_EQ(action_of(seen), Action::no_action);
  seen.faded = exactly(25.1_percent);
  EXPECT_EQ(action_of(seen), Action::repaint);
  EXPECT_THAT(decide(seen, Kind::line, Policy{}).reasons, ElementsAre(HasSubstr("faded")));
}

TEST(Decide, LowContrastAloneIsNoReasonToRepaint) {
  Condition seen = worn(96_percent);
  seen.appearance.contrast = 1.02;
  EXPECT_EQ(action_of(seen), Action::no_action);
}

TEST(Decide, GrindsFrom10PercentFlakedOn) {
  EXPECT_EQ(action_of(flaked(9.9_percent)), Action::no_action);
  EXPECT_EQ(action_of(flaked(10_percent)), Action::grind_and_repaint);
  EXPECT_THAT(decide(flaked(30_percent), Kind::arrow_left, Policy{}).reasons,
              ElementsAre("30 % of the marking has come off in flakes"));
}

TEST(Decide, GrindsHoweverMuchRemainsWhenTheCoatIsLettingGo) {
  Condition seen = worn(88_percent);
  seen.flaked = exactly(12_percent);
  EXPECT_EQ(action_of(seen), Action::grind_and_repaint);
}

TEST(Decide, GrindsFrom5PercentOlderCoatOn) {
  Condition seen = worn(90_percent);
  seen.older_coat = exactly(4.9_percent);
  EXPECT_EQ(action_of(seen), Action::no_action);
  seen.older_coat = exactly(5_percent);
  seen.older_colour = Colour::white;
  EXPECT_EQ(action_of(seen), Action::grind_and_repaint);
  EXPECT_THAT(decide(seen, Kind::arrow_left, Policy{}).reasons,
              ElementsAre(HasSubstr("an older white coat shows under the yellow")));
}

TEST(Decide, ACrackPatternAloneNeverMeansGrinding) {
  Condition seen = worn(70_percent);
  seen.loss = {0_percent, 0_percent, 30_percent};
  EXPECT_EQ(action_of(seen), Action::repaint);
}

TEST(Decide, GrindsATapePullOfClass2OrWorse) {
  PersonSays person;
  person.adhesion = 3;
  EXPECT_EQ(decide(worn(95_percent), Kind::line, Policy{}, person).action, Action::no_action);
  person.adhesion = 2;
  const Decision decision = decide(worn(95_percent), Kind::line, Policy{}, person);
  EXPECT_EQ(decision.action, Action::grind_and_repaint);
  // ASTM D3359 method B: class 2 is 15 to 35 % of the lattice removed.
  EXPECT_THAT(decision.reasons, ElementsAre(HasSubstr("15 to 35 %")));
  EXPECT_DOUBLE_EQ(decision.action_confidence, 1);
}

TEST(Decide, NamesTheShareRemovedByTapeOfEveryClass) {
  // ASTM D3359 method B: 4 under 5 %, 3 5-15 %, 2 15-35 %, 1 35-65 %, 0 over 65 %.
  Policy all_classes;
  all_classes.grind_adhesion_class = 5;
  const std::vector<std::string> removed = {"more than 65 %", "35 to 65 %",    "15 to 35 %",
                                            "5 to 15 %",      "less than 5 %", "none"};
  for (int one = 0; one <= 5; ++one) {
    PersonSays person;
    person.adhesion = one;
    EXPECT_THAT(decide(worn(95_percent), Kind::line, all_classes, person).reasons,
                ElementsAre(HasSubstr("took off " + removed[static_cast<std::size_t>(one)])));
  }
}

// ASTM D3359 method B: 5 none, 4 under 5 %, 3 5-15 %, 2 15-35 %, 1 35-65 %, 0 over 65 %.
TEST(TapePull, ClassesEndWhereTheStandardSays) {
  const std::vector<std::pair<Fraction, int>> table = {
      {0_percent, 5},  {0.1_percent, 4},  {4.9_percent, 4}, {5_percent, 3},    {15_percent, 3}, {15.1_percent, 2},
      {35_percent, 2}, {35.1_percent, 1}, {65_percent, 1},  {65.1_percent, 0}, {100_percent, 0}};
  for (const auto& [removed, expected] : table)
    EXPECT_EQ(tape_pull_class(removed), expected) << percent(removed);
}

TEST(Decide, GrindsOffIncompatiblePaint) {
  PersonSays person;
  person.incompatible_below = true;
  EXPECT_EQ(decide(worn(95_percent), Kind::line, Policy{}, person).action, Action::grind_and_repaint);
  person.incompatible_below = false;
  EXPECT_EQ(decide(worn(95_percent), Kind::line, Policy{}, person).action, Action::no_action);
}

// UFGS 02761N: a build-up over 40 mil (1 mm) comes off unless crack-free and shown to be sound.
TEST(Decide, GrindsABuildUpOver1MillimetreUnlessSoundAndUncracked) {
  const auto action_for = [](const Condition& seen, double mm, std::optional<bool> sound) {
    PersonSays person;
    person.build_up_mm = mm;
    person.build_up_sound = sound;
    return decide(seen, Kind::line, Policy{}, person).action;
  };
  const Condition clean = worn(95_percent);
  EXPECT_EQ(action_for(clean, 1.0, std::nullopt), Action::no_action);
  EXPECT_EQ(action_for(clean, 1.01, std::nullopt), Action::grind_and_repaint);
  EXPECT_EQ(action_for(clean, 1.3, false), Action::grind_and_repaint);
  EXPECT_EQ(action_for(clean, 1.3, true), Action::no_action);
  Condition cracked = clean;
  cracked.loss = {3_percent, 0_percent, 2_percent};
  EXPECT_EQ(action_for(cracked, 1.3, true), Action::grind_and_repaint);
  EXPECT_EQ(action_for(cracked, 0.9, std::nullopt), Action::no_action);
}

TEST(Decide, APersonsDecisionWinsOverEverything) {
  PersonSays person;
  person.action = Action::repaint;
  person.adhesion = 0;
  const Decision decision = decide(flaked(60_percent), Kind::line, Policy{}, person);
  EXPECT_EQ(decision.action, Action::repaint);
  EXPECT_DOUBLE_EQ(decision.action_confidence, 1);
  EXPECT_FALSE(decision.needs_review);
}

TEST(Decide, AConfirmedDecisionNeedsNoReview) {
  Condition seen = worn(84_percent);
  seen.remaining = about(84_percent, 4_percent);
  PersonSays person;
  EXPECT_TRUE(decide(seen, Kind::line, Policy{}, person).needs_review);
  person.confirmed = true;
  EXPECT_FALSE(decide(seen, Kind::line, Policy{}, person).needs_review);
}

TEST(Decide, AnIntervalAcrossItsThresholdAsksForAPerson) {
  for (const Fraction remaining : {82_percent, 84.9_percent, 85_percent, 88_percent}) {
    Condition seen = worn(remaining);
    seen.remaining = about(remaining, 4_percent);
    const Decision decision = decide(seen, Kind::line, Policy{});
    EXPECT_EQ(decision.action, remaining < 85_percent ? Action::repaint : Action::no_action);
    EXPECT_THAT(decision.action_confidence, Lt(0.7)) << percent(remaining);
    EXPECT_TRUE(decision.needs_review);
    EXPECT_THAT(decision.reasons, Contains(HasSubstr("cannot tell")));
  }
}

TEST(Decide, AnIntervalThatEndsOnTheThresholdIsSettled) {
  Condition seen = worn(89_percent);
  seen.remaining = {85_percent, 89_percent, 92_percent};
  EXPECT_FALSE(decide(seen, Kind::line, Policy{}).needs_review);
  seen.remaining = {84.9_percent, 89_percent, 92_percent};
  EXPECT_TRUE(decide(seen, Kind::line, Policy{}).needs_review);
  Condition letting_go = flaked(12_percent);
  letting_go.flaked = {10_percent, 12_percent, 15_percent};
  EXPECT_FALSE(decide(letting_go, Kind::line, Policy{}).needs_review);
  letting_go.flaked = {9.9_percent, 12_percent, 15_percent};
  EXPECT_TRUE(decide(letting_go, Kind::line, Policy{}).needs_review);
}

TEST(Decide, AnOpenGrindQuestionMakesARepaintUnsure) {
  Condition seen = worn(60_percent);
  seen.remaining = about(60_percent, 3_percent);
  seen.flaked = {4_percent, 7_percent, 14_percent};
  const Decision decision = decide(seen, Kind::line, Policy{});
  EXPECT_EQ(decision.action, Action::repaint);
  EXPECT_TRUE(decision.needs_review);
  EXPECT_THAT(decision.action_confidence, Lt(0.7));
}

TEST(Decide, OneSureRuleSettlesWhatAnotherLeavesOpen) {
  Condition seen = worn(60_percent);
  seen.flaked = about(30_percent, 5_percent);
  seen.older_coat = about(5_percent, 3_percent);
  seen.remaining = about(85_percent, 3_percent);
  const Decision decision = decide(seen, Kind::line, Policy{});
  EXPECT_EQ(decision.action, Action::grind_and_repaint);
  EXPECT_FALSE(decision.needs_review);
  EXPECT_THAT(decision.action_confidence, Gt(0.9));
  EXPECT_THAT(decision.reasons, Not(Contains(HasSubstr("cannot tell"))));
}

// A 90 % interval leaves 5 % on each side, so a threshold on its end is passed with a chance of 0.95.
TEST(Decide, ConfidenceIsTheChanceOnTheNormalCurveOfEachSide) {
  Condition seen = worn(80_percent);
  seen.remaining = {50_percent, 80_percent, 84.9_percent};
  EXPECT_THAT(decide(seen, Kind::line, Policy{}).action_confidence, DoubleNear(0.953, 0.002));
  seen.remaining = {85_percent, 90_percent, 90.5_percent};
  EXPECT_THAT(decide(seen, Kind::line, Policy{}).action_confidence, DoubleNear(0.95, 1e-6));
}

TEST(Decide, ConfidenceNeverFallsAsTheThresholdGetsFartherAway) {
  double before = 0;
  for (int tenths = 850; tenths <= 1000; ++tenths) {
    Condition seen = worn({tenths / 1000.0});
    seen.remaining = {{tenths / 1000.0 - 0.03}, {tenths / 1000.0}, {1.0}};
    const double confidence = decide(seen, Kind::line, Policy{}).action_confidence;
    EXPECT_GE(confidence, before) << tenths;
    before = confidence;
  }
  EXPECT_GT(before, 0.99);
}

TEST(Decide, AMeasurementInDoubtAsksForAPersonAndSaysWhy) {
  Condition seen = worn(60_percent);
  seen.in_doubt = true;
  seen.doubts = {"a fifth of the marking is under leaves"};
  const Decision decision = decide(seen, Kind::line, Policy{});
  EXPECT_TRUE(decision.needs_review);
  EXPECT_THAT(decision.reasons, Contains("a fifth of the marking is under leaves"));
}

TEST(Decide, WhatPrintsTheSameDecidesTheSame) {
  EXPECT_EQ(action_of(worn({0.8496})), action_of(worn(85_percent)));
  EXPECT_EQ(action_of(worn({0.8494})), action_of(worn(84.9_percent)));
}

TEST(Decide, MoreLossNeverEarnsLessWork) {
  for (int lost = 0; lost < 100; ++lost) {
    EXPECT_LE(action_of(worn({1 - lost / 100.0})), action_of(worn({1 - (lost + 1) / 100.0}))) << lost;
    EXPECT_LE(action_of(flaked({lost / 100.0})), action_of(flaked({(lost + 1) / 100.0}))) << lost;
  }
}

TEST(Priority, SeverityGrowsFrom0At100PercentTo1At20PercentAndBelow) {
  const auto priority = [](Fraction remaining) { return decide(worn(remaining), Kind::stop_line, Policy{}).priority; };
  EXPECT_DOUBLE_EQ(priority(100_percent), 0);
  EXPECT_DOUBLE_EQ(priority(60_percent), 0.5);
  EXPECT_DOUBLE_EQ(priority(20_percent), 1);
  EXPECT_DOUBLE_EQ(priority(6_percent), 1);
}

TEST(Priority, AGrindIsNeverBelow06Severity) {
  EXPECT_DOUBLE_EQ(decide(flaked(11_percent), Kind::crosswalk, Policy{}).priority, 0.6);
  EXPECT_DOUBLE_EQ(decide(flaked(90_percent), Kind::crosswalk, Policy{}).priority, 1);
}

TEST(Priority, ConsequenceByKindAndUsage) {
  const auto consequence = [](Kind kind, Colour colour = Colour::white) {
    return consequence_of(kind, colour, Policy{});
  };
  for (const Kind kind : {Kind::stop_line, Kind::crosswalk, Kind::accessible_symbol, Kind::hatching}) {
    EXPECT_DOUBLE_EQ(consequence(kind), 1.0) << word(kind);
  }
  for (const Kind kind : {Kind::arrow_straight, Kind::arrow_left, Kind::arrow_right, Kind::arrow_straight_left,
                          Kind::arrow_straight_right, Kind::arrow_left_right, Kind::legend, Kind::yield_line}) {
    EXPECT_DOUBLE_EQ(consequence(kind), 0.9) << word(kind);
  }
  EXPECT_DOUBLE_EQ(consequence(Kind::curb, Colour::yellow), 0.7);
  EXPECT_DOUBLE_EQ(consequence(Kind::curb, Colour::red), 1.0);
  EXPECT_DOUBLE_EQ(consequence(Kind::line), 0.5);
  EXPECT_DOUBLE_EQ(consequence(Kind::other), 0.5);
}

TEST(Priority, APersonsKindAndColourCount) {
  PersonSays person;
  person.kind = Kind::curb;
  person.colour = Colour::red;
  EXPECT_DOUBLE_EQ(decide(worn(20_percent), Kind::line, Policy{}, person).priority, 1.0);
}

}  // namespace
}  // namespace lotwear
