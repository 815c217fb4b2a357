#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "marking/groups.hpp"

namespace lotwear {
namespace {

constexpr double kInch = 25.4;

/// A bar along y at x, with the finder's word for one kind and the rest for lines.
FittedBar bar(double x, double from_y, double to_y, double width, FinderKind said, double share) {
  FittedBar fitted;
  fitted.bar.start = {x, from_y};
  fitted.bar.end = {x, to_y};
  fitted.bar.width_mm = width;
  fitted.bar.votes[static_cast<std::size_t>(FinderKind::line)] = 1 - share;
  fitted.bar.votes[static_cast<std::size_t>(said)] += share;
  fitted.bar.contrast = {{230, 230, 230}, {80, 80, 80}};
  return fitted;
}

FittedBar across(double y, double from_x, double to_x, double width, FinderKind said, double share) {
  FittedBar fitted = bar(0, 0, 1, width, said, share);
  fitted.bar.start = {from_x, y};
  fitted.bar.end = {to_x, y};
  return fitted;
}

std::vector<Kind> kinds(const std::vector<BarGroup>& groups) {
  std::vector<Kind> found;
  for (const BarGroup& group : groups) found.push_back(group.kind);
  std::sort(found.begin(), found.end());
  return found;
}

// MUTCD 2009 3B.18: longitudinal bars 12 to 24 in wide, 12 to 60 in apart
TEST(GroupBars, WideBarsSideBySideAreACrosswalkWhateverTheFinderSays) {
  std::vector<FittedBar> bars;
  for (int k = 0; k < 4; ++k) bars.push_back(bar(k * 36 * kInch, 0, 2400, 16 * kInch, FinderKind::crosswalk, 0.1));
  const auto groups = group_bars(bars, false);
  ASSERT_EQ(groups.size(), 1U);
  EXPECT_EQ(groups[0].kind, Kind::crosswalk);
  EXPECT_EQ(groups[0].bars.size(), 4U);
}

TEST(GroupBars, AThinLineBetweenCrosswalkBarsStaysALine) {
  std::vector<FittedBar> bars;
  for (int k = 0; k < 3; ++k) bars.push_back(bar(k * 36 * kInch, 0, 2400, 16 * kInch, FinderKind::crosswalk, 0.7));
  bars.push_back(bar(18 * kInch, -400, 4000, 4 * kInch, FinderKind::crosswalk, 0.3));
  EXPECT_THAT(kinds(group_bars(bars, false)), ::testing::ElementsAre(Kind::line, Kind::crosswalk));
}

// aisles are marked 36 in on centre (California), stalls are 8 ft and more wide
TEST(GroupBars, AnEvenRowCloserThanStallsIsHatchingWhateverTheFinderSays) {
  for (const double scale : {0.6, 1.0, 1.3}) {   // of a ground without a sheet: the row's widths count, not millimetres
    std::vector<FittedBar> aisle, stalls;
    for (int k = 0; k < 3; ++k) {
      aisle.push_back(bar(scale * k * 36 * kInch, k * 150, 1500 + k * 150, scale * 4 * kInch, FinderKind::hatching, 0.08));
      stalls.push_back(bar(scale * k * 96 * kInch, 0, 5000, scale * 6 * kInch, FinderKind::hatching, 0.08));
    }
    EXPECT_THAT(kinds(group_bars(aisle, false)), ::testing::ElementsAre(Kind::hatching));
    EXPECT_THAT(kinds(group_bars(stalls, false)), ::testing::ElementsAre(Kind::line, Kind::line, Kind::line));
  }
}

// stalls 8 ft wide and 16 ft long seen on a ground that is half as wide as it should be
TEST(GroupBars, StallLinesThatAWrongGroundBringsCloseAreLinesWhereTheFinderIsSure) {
  const auto row = [](double length, double sure) {
    std::vector<FittedBar> bars;
    for (int k = 0; k < 3; ++k) bars.push_back(bar(k * 40 * kInch, 0, length, 4 * kInch, FinderKind::hatching, 1 - sure));
    return bars;
  };
  EXPECT_THAT(kinds(group_bars(row(192 * kInch, 0.95), false)), ::testing::ElementsAre(Kind::line, Kind::line, Kind::line));
  EXPECT_THAT(kinds(group_bars(row(192 * kInch, 0.6), false)), ::testing::ElementsAre(Kind::hatching));
  EXPECT_THAT(kinds(group_bars(row(60 * kInch, 0.95), false)), ::testing::ElementsAre(Kind::hatching));
}

// MUTCD 2009 3B.18: crosswalk lines 6 to 24 in wide, at least 6 ft apart
TEST(GroupBars, TwoWideLinesAlongAWalkwayAreOneCrosswalk) {
  const std::vector<FittedBar> bars = {bar(0, 0, 2600, 12 * kInch, FinderKind::crosswalk, 0.2), bar(8 * 12 * kInch, 30, 2620, 12 * kInch, FinderKind::crosswalk, 0.2)};
  const auto groups = group_bars(bars, false);
  ASSERT_EQ(groups.size(), 1U);
  EXPECT_EQ(groups[0].kind, Kind::crosswalk);
}

TEST(GroupBars, TwoLinesOfEightInchesAreACrosswalkThoughTheFinderDoesNotSaySo) {
  for (const double apart : {4.5, 6.0, 10.0}) {
    const std::vector<FittedBar> bars = {bar(0, 0, 2100, 8 * kInch, FinderKind::crosswalk, 0.03),
                                         bar(apart * 12 * kInch, -40, 2050, 8 * kInch, FinderKind::crosswalk, 0.03)};
    EXPECT_THAT(kinds(group_bars(bars, true)), ::testing::ElementsAre(Kind::crosswalk)) << apart << " ft";
  }
  const std::vector<FittedBar> stall = {bar(0, 0, 5400, 6 * kInch, FinderKind::line, 0.6), bar(2500, 0, 5400, 6 * kInch, FinderKind::line, 0.6)};
  EXPECT_THAT(kinds(group_bars(stall, true)), ::testing::Each(Kind::line));
}

TEST(GroupBars, StallLinesOfOneRowStayLines) {
  std::vector<FittedBar> bars;
  for (int k = 0; k < 3; ++k) bars.push_back(bar(k * 2600, 0, 5400, 4 * kInch, FinderKind::hatching, 0.5));
  EXPECT_THAT(kinds(group_bars(bars, false)), ::testing::Each(Kind::line));
  EXPECT_EQ(group_bars(bars, false).size(), 3U);
}

TEST(GroupBars, LinesThatHappenToLieCloseAreNoHatching) {
  const std::vector<FittedBar> bars = {bar(0, 0, 2800, 100, FinderKind::hatching, 0.6), bar(520, 200, 4100, 100, FinderKind::hatching, 0.6),
                                       bar(1500, -300, 3600, 105, FinderKind::hatching, 0.6)};
  EXPECT_EQ(group_bars(bars, false).size(), 3U);
}

// California Building Code: hatched lines of an access aisle at most 36 in on centre
TEST(GroupBars, AnEvenRowOfNarrowBarsIsHatchingWhenTheFinderAgrees) {
  std::vector<FittedBar> bars;
  for (int k = 0; k < 4; ++k) bars.push_back(bar(k * 36 * kInch, 0, 2000, 4 * kInch, FinderKind::hatching, 0.5));
  const auto groups = group_bars(bars, false);
  ASSERT_EQ(groups.size(), 1U);
  EXPECT_EQ(groups[0].kind, Kind::hatching);
}

/// A bar from one point to another.
FittedBar between(GroundPoint from, GroundPoint to, double width, FinderKind said, double share) {
  FittedBar fitted = bar(0, 0, 1, width, said, share);
  fitted.bar.start = from;
  fitted.bar.end = to;
  return fitted;
}

TEST(GroupBars, AStallLineThatEndsAtHatchingIsALineOfItsOwn) {
  const double width = 4 * kInch;
  std::vector<FittedBar> bars = {bar(0, 0, 4000, width, FinderKind::hatching, 0.8), bar(1500, 0, 4000, width, FinderKind::hatching, 0.8)};
  for (int k = 0; k < 4; ++k) bars.push_back(between({0, 900.0 * k}, {1500, 900.0 * k + 900}, width, FinderKind::hatching, 0.8));
  bars.push_back(between({1500, 4000}, {3600, 7600}, width, FinderKind::hatching, 0.6));   // from a corner on
  bars.push_back(between({2100, 600}, {5200, 1400}, width, FinderKind::hatching, 0.6));    // near a border
  const auto groups = group_bars(bars, false);
  ASSERT_EQ(groups.size(), 3U);
  EXPECT_EQ(groups[0].kind, Kind::hatching);
  EXPECT_EQ(groups[0].bars.size(), 6U);
  EXPECT_THAT(kinds(groups), ::testing::ElementsAre(Kind::line, Kind::line, Kind::hatching));
}

TEST(GroupBars, ABarOfHatchingWornThroughWhereItWouldTouchStillBelongs) {
  const double width = 4 * kInch;
  std::vector<FittedBar> bars = {bar(0, 0, 4000, width, FinderKind::hatching, 0.8), bar(1500, 0, 4000, width, FinderKind::hatching, 0.8)};
  for (int k = 0; k < 3; ++k) bars.push_back(between({0, 900.0 * k}, {1500, 900.0 * k + 900}, width, FinderKind::hatching, 0.8));
  bars.push_back(between({450, 2970}, {1050, 3330}, width, FinderKind::hatching, 0.8));
  const auto groups = group_bars(bars, false);
  ASSERT_EQ(groups.size(), 1U);
  EXPECT_EQ(groups[0].bars.size(), 6U);
}

TEST(GroupBars, WideRungsBetweenRailsAreALadder) {
  std::vector<FittedBar> bars = {bar(0, 0, 4000, 8 * kInch, FinderKind::line, 1), bar(1800, 0, 4000, 8 * kInch, FinderKind::line, 1)};
  for (int k = 0; k < 3; ++k) bars.push_back(across(600 + k * 1100, 100, 1700, 16 * kInch, FinderKind::hatching, 0.4));
  const auto groups = group_bars(bars, false);
  ASSERT_EQ(groups.size(), 1U);
  EXPECT_EQ(groups[0].kind, Kind::crosswalk);
}

}  // namespace
}  // namespace lotwear
