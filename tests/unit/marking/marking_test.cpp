#include "marking/marking.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "support/painted_photo.hpp"

namespace lotwear {
namespace {

using testing::found_in;
using testing::overlap;
using testing::paint_photo;
using testing::PaintedScene;
using testing::PaintedThing;
using testing::rectangle;

std::vector<GroundRing> shape_rings(const Shape& shape, double length_mm, double turn, GroundPoint at) {
  std::vector<GroundRing> rings = outline(shape, length_mm, usual_values(shape));
  for (auto& ring : rings) {
    for (auto& p : ring) p = {at.x + std::cos(turn) * p.x - std::sin(turn) * p.y, at.y + std::sin(turn) * p.x + std::cos(turn) * p.y};
  }
  return rings;
}

TEST(FindMarkings, AStripeIsFoundToTheMillimetre) {
  PaintedScene scene;
  scene.things = {{{rectangle({40, 30}, 1100, 101.6, 1.2)}, FinderKind::line}};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::line);
  EXPECT_NEAR(found[0].width_mm, 101.6, 1.0);
  EXPECT_NEAR(found[0].length_mm, 1100, 4);
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.97);
  EXPECT_LT(found[0].edge_error.value, 1.5);
}

TEST(FindMarkings, AWornThroughStripeIsOneMarking) {
  PaintedScene scene;
  scene.things = {{{rectangle({0, 0}, 1400, 101.6, 1.3)}, FinderKind::line}};
  // as paint comes off: no straight cut, a lobe here and there
  for (const auto& [along, across] : {std::pair{-150.0, 15.0}, {-60.0, -30.0}, {40.0, 20.0}, {130.0, -25.0}, {175.0, 35.0}})
    scene.gone.push_back(rectangle({along * std::cos(1.3) - across * std::sin(1.3), along * std::sin(1.3) + across * std::cos(1.3)}, 160, 75, 1.3 + across / 60));
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].rings.size(), 1U);
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.95);
}

TEST(FindMarkings, ABrokenLineIsOneMarkingOfItsStrokes) {
  PaintedScene scene;
  scene.height = Millimetres{2000};
  PaintedThing line{{}, FinderKind::line};
  for (int i = -1; i <= 1; ++i) line.rings.push_back(rectangle({700.0 * i * std::cos(1.2), 700.0 * i * std::sin(1.2)}, 450, 101.6, 1.2));
  scene.things = {line};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].rings.size(), 3U);
  EXPECT_NEAR(found[0].length_mm, 3 * 450, 40);
  EXPECT_GT(overlap(found[0].rings, line.rings, 2), 0.93);
}

/// A stripe along an arc whose middle lies `bow_mm` off its chord.
GroundRing arc_stripe(double chord_mm, double bow_mm, double width_mm, double turn) {
  GroundRing ring;
  const auto at = [&](double x, double aside) {
    const double t = 2 * x / chord_mm, slope = -4 * bow_mm * t / chord_mm, y = bow_mm * (2.0 / 3 - t * t);
    const double n = std::hypot(1, slope), px = x - aside * slope / n, py = y + aside / n;
    return GroundPoint{px * std::cos(turn) - py * std::sin(turn), px * std::sin(turn) + py * std::cos(turn)};
  };
  for (int i = 0; i <= 40; ++i) ring.push_back(at(chord_mm * (i / 40.0 - 0.5), width_mm / 2));
  for (int i = 40; i >= 0; --i) ring.push_back(at(chord_mm * (i / 40.0 - 0.5), -width_mm / 2));
  return ring;
}

TEST(FindMarkings, ALineAlongABendIsFollowed) {
  PaintedScene scene;
  scene.height = Millimetres{2400}, scene.tilt_deg = 20;
  scene.things = {{{arc_stripe(2300, 120, 101.6, 0.15)}, FinderKind::line}};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::line);
  EXPECT_NEAR(found[0].width_mm, 101.6, 4);
  // a straight stripe has 0.53; what is missing is at an end, where the curve runs out of the place that is searched
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.85);
}

TEST(FindMarkings, ALineCutByAPatchedTrenchIsWhole) {
  PaintedScene scene;
  scene.things = {{{rectangle({0, 0}, 1400, 101.6, 1.3)}, FinderKind::line}};
  scene.gone = {rectangle({250 * std::cos(1.3), 250 * std::sin(1.3)}, 250, 140, 1.3)};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].rings.size(), 1U);
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.95);
}

TEST(FindMarkings, TwoStallLinesAreTwo) {
  PaintedScene scene;
  scene.tilt_deg = 20;
  scene.things = {{{rectangle({-300, 0}, 1000, 101.6, 1.5)}, FinderKind::line}, {{rectangle({300, 0}, 1000, 101.6, 1.5)}, FinderKind::line}};
  EXPECT_EQ(found_in(scene).size(), 2U);
}

TEST(FindMarkings, CrossingStripesAreTakenApart) {
  PaintedScene scene;
  scene.things = {{{rectangle({0, 0}, 1300, 101.6, 0.1)}, FinderKind::line}, {{rectangle({0, -50}, 1000, 101.6, 1.5)}, FinderKind::line}};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 2U);
  for (const auto& f : found) {
    EXPECT_GT(std::max(overlap(f.rings, scene.things[0].rings), overlap(f.rings, scene.things[1].rings)), 0.93);
  }
}

TEST(FindMarkings, CrosswalkBarsAreOneMarking) {
  PaintedScene scene;
  scene.height = Millimetres{2200};
  for (int i = -1; i <= 1; ++i) scene.things.push_back({{rectangle({i * 650.0, 0}, 1200, 300, 1.57)}, FinderKind::crosswalk});
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::crosswalk);
  EXPECT_EQ(found[0].rings.size(), 3U);
}

TEST(FindMarkings, ALadderOfWideRungsIsTakenApartWhole) {
  PaintedScene scene;
  scene.height = Millimetres{2600};
  std::vector<GroundRing> rings = {rectangle({-800, 0}, 2600, 200, 1.5708), rectangle({800, 0}, 2600, 200, 1.5708)};
  for (int i = -1; i <= 1; ++i) rings.push_back(rectangle({0, i * 850.0}, 1600, 400, 0));
  for (const GroundRing& ring : rings) scene.things.push_back({{ring}, FinderKind::crosswalk});
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::crosswalk);
  EXPECT_EQ(found[0].rings.size(), 5U);
  EXPECT_GT(overlap(found[0].rings, rings), 0.95);
}

TEST(FindMarkings, ABarThatThePhotoCutsSlantwiseIsNoArrow) {
  PaintedScene scene;
  scene.tilt_deg = 5;
  scene.things = {{{rectangle({1050, 250}, 2600, 300, 1.2)}, FinderKind::line}};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_TRUE(found[0].kind == Kind::line || found[0].kind == Kind::stop_line) << word(found[0].kind);
  EXPECT_TRUE(found[0].cut_off);
  EXPECT_NEAR(found[0].width_mm, 300, 8);
}

TEST(FindMarkings, EveryArrowIsToldFromTheOthersAndFitsItsOutline) {
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (!is_arrow(shape.kind)) continue;
    for (const double turn : {0.3, 2.6}) {
      PaintedScene scene;
      scene.height = Millimetres{2400};
      scene.things = {{shape_rings(shape, 1500, turn, {0, 0}), FinderKind::arrow}};
      const auto found = found_in(scene);
      ASSERT_EQ(found.size(), 1U) << shape.name;
      EXPECT_EQ(found[0].kind, shape.kind) << shape.name << " turned " << turn;
      EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.95) << shape.name << " turned " << turn;
    }
  }
}

TEST(FindMarkings, ALetterThatAnArrowFitsIsALetterWhereTheFinderSaysNothingOfArrows) {
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.kind != Kind::arrow_left) continue;
    PaintedScene scene;
    scene.height = Millimetres{2400};
    scene.things = {{shape_rings(shape, 900, 0, {0, 0}), FinderKind::legend},
                    {{rectangle({520, 0}, 900, 130, 1.57)}, FinderKind::legend},
                    {{rectangle({-600, 0}, 900, 130, 1.57)}, FinderKind::legend}};
    const auto found = found_in(scene);
    ASSERT_EQ(found.size(), 1U) << shape.name;
    EXPECT_EQ(found[0].kind, Kind::legend) << shape.name;
    scene.things[0].kind = FinderKind::arrow;
    const auto beside = found_in(scene);
    EXPECT_TRUE(std::any_of(beside.begin(), beside.end(), [](const Footprint& f) { return f.kind == Kind::arrow_left; })) << shape.name;
  }
}

TEST(FindMarkings, WhatStandsInARowOfLettersIsALetterWhateverItLooksLike) {
  PaintedScene scene;
  scene.height = Millimetres{2400};
  for (const double x : {-600.0, -250.0}) scene.things.push_back({{rectangle({x, 0}, 900, 130, 1.57)}, FinderKind::legend});
  scene.things.push_back({{rectangle({150, 0}, 880, 130, 1.57)}, FinderKind::line});
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::legend);
  EXPECT_EQ(found[0].rings.size(), 3U);
  // twice as long it is the line of a stall beside the word
  scene.things.back() = {{rectangle({150, 0}, 1800, 130, 1.57)}, FinderKind::line};
  EXPECT_EQ(found_in(scene).size(), 2U);
}

TEST(FindMarkings, BitesOutOfALettersStrokesBelongToTheLetter) {
  PaintedScene scene;
  scene.height = Millimetres{2000};
  const GroundRing letter = {{-250, 450}, {-120, 450}, {-120, -320}, {250, -320}, {250, -450}, {-250, -450}};
  scene.things = {{{letter}, FinderKind::legend}};
  scene.gone = {rectangle({-120, 100}, 70, 70, 0), rectangle({80, -450}, 80, 60, 0), rectangle({-250, -150}, 60, 60, 0.5)};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::legend);
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.96);
}

TEST(FindMarkings, ABroadBarThatAShadowPartsIntoTrianglesIsOneBar) {
  PaintedScene scene;
  scene.height = Millimetres{2400};
  scene.things = {{{rectangle({0, 0}, 2400, 500, 1.57)}, FinderKind::stop_line}};
  scene.gone = {rectangle({0, 0}, 3000, 170, 1.2)};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::stop_line);
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.9);
}

TEST(FindMarkings, TwoLeavesInARowAreNoStripe) {
  PaintedScene scene;
  scene.things = {{{rectangle({-130, 0}, 130, 85, 0)}, FinderKind::line}, {{rectangle({130, 0}, 130, 85, 0)}, FinderKind::line}};
  EXPECT_TRUE(found_in(scene).empty());
}

TEST(FindMarkings, ALoneTriangleSmallerThanAnyYieldLinesIsALeaf) {
  PaintedScene scene;
  scene.things = {{{{{-130, -130}, {130, -130}, {0, 130}}}, FinderKind::yield_line}};
  EXPECT_TRUE(found_in(scene).empty());
  scene.things = {{{{{-153, -229}, {153, -229}, {0, 229}}}, FinderKind::yield_line}};   // 12 by 18 in
  EXPECT_EQ(found_in(scene).size(), 1U);
}

TEST(FindMarkings, ASymbolPaintedWithTheStencilFaceDownIsStillASymbol) {
  for (Shape shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.kind != Kind::accessible_symbol) continue;
    shape.flipped = true;
    PaintedScene scene;
    scene.things = {{shape_rings(shape, 1040, 0.4, {0, 0}), FinderKind::accessible_symbol}};
    const auto found = found_in(scene);
    ASSERT_EQ(found.size(), 1U) << shape.name;
    EXPECT_EQ(found[0].kind, Kind::accessible_symbol);
    EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.9) << shape.name;
  }
}

TEST(FindMarkings, ASymbolReadAsLettersBesideAStallLineIsStillASymbol) {
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.kind != Kind::accessible_symbol) continue;
    PaintedScene scene;
    scene.height = Millimetres{2400};
    scene.things = {{shape_rings(shape, 1040, 0.2, {0, 0}), FinderKind::legend}, {{rectangle({750, 0}, 1250, 101.6, 1.5)}, FinderKind::legend}};
    scene.gone = {rectangle({-60, 40}, 700, 90, 0.9)};   // a stencil's bridge: the figure is several pieces
    const auto found = found_in(scene);
    const auto symbol = std::find_if(found.begin(), found.end(), [](const Footprint& f) { return f.kind == Kind::accessible_symbol; });
    ASSERT_NE(symbol, found.end()) << shape.name;
    EXPECT_GT(overlap(symbol->rings, scene.things[0].rings, 2), 0.9) << shape.name;
  }
}

TEST(FindMarkings, AWideBarThatAThinLineTouchesKeepsItsWidth) {
  PaintedScene scene;
  scene.height = Millimetres{2600};
  scene.things = {{{rectangle({-200, 0}, 1700, 450, 0)}, FinderKind::stop_line}, {{rectangle({700, 400}, 2000, 101.6, 1.4)}, FinderKind::line}};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 2U);
  for (const PaintedThing& thing : scene.things) {
    EXPECT_GT(std::max(overlap(found[0].rings, thing.rings), overlap(found[1].rings, thing.rings)), 0.93);
  }
}

TEST(FindMarkings, OnAPlaneThatIsOffABarIsAWedgeButFound) {
  PaintedScene scene;
  scene.tilt_deg = 52;
  scene.things = {{{rectangle({350, 100}, 1700, 450, 1.35)}, FinderKind::stop_line}};
  auto painted = paint_photo(scene);
  const std::vector<ImageRing> truth = in_photo(painted.ground, scene.things[0].rings);
  scene.tilt_deg = 12;
  Ground off = paint_photo(scene).ground;
  off.source = "scale-sheet";
  const auto found = find_markings(painted.photo, painted.map, off, load_shapes(LOTWEAR_MODELS)).footprints;
  ASSERT_EQ(found.size(), 1U);
  const std::vector<ImageRing> seen = in_photo(off, found[0].rings);
  EXPECT_NEAR(area(seen[0]) / area(truth[0]), 1, 0.04);
}

TEST(FindMarkings, ABroadArrowThatTheFinderTakesForABarIsAnArrow) {
  // its head is one eighth of it: one bar covers 0.87 of both
  const GroundRing arrow = {{-220, -900}, {220, -900}, {220, 300}, {400, 260}, {0, 1000}, {-400, 260}, {-220, 300}};
  PaintedScene scene;
  scene.things = {{{arrow}, FinderKind::stop_line}};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::arrow_straight);
  EXPECT_GT(overlap(found[0].rings, {arrow}), 0.93);
}

TEST(FindMarkings, ADoubleLineThatTheFinderRunsTogetherIsTwo) {
  PaintedScene scene;
  scene.things = {{{rectangle({-100, 0}, 1200, 101.6, 1.5708)}, FinderKind::line}, {{rectangle({100, 0}, 1200, 101.6, 1.5708)}, FinderKind::line}};
  auto painted = paint_photo(scene);
  painted.ground.source = "scale-sheet";
  for (cv::Mat* map : {&painted.map.footprint, &painted.map.guess}) {
    if (!map->empty()) cv::morphologyEx(*map, *map, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {41, 1}));
  }
  const auto found = find_markings(painted.photo, painted.map, painted.ground, load_shapes(LOTWEAR_MODELS)).footprints;
  ASSERT_EQ(found.size(), 2U);
  for (const Footprint& f : found) EXPECT_NEAR(f.width_mm, 101.6, 3);
}

TEST(FindMarkings, ADoubleLineMostlyInDeepShadeIsTwo) {
  PaintedScene scene;
  for (const double x : {-90.0, 90.0}) scene.things.push_back({{rectangle({x, 0}, 1800, 101.6, 1.5708)}, FinderKind::line});
  auto painted = paint_photo(scene);
  painted.ground.source = "scale-sheet";
  for (cv::Mat* map : {&painted.map.footprint, &painted.map.guess}) {
    if (!map->empty()) cv::morphologyEx(*map, *map, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {41, 1}));
  }
  // encoded 0.38 is linear 0.12: under trees at noon
  cv::Mat shade = painted.photo.rgb.rowRange(painted.photo.rgb.rows / 3, painted.photo.rgb.rows);
  shade.convertTo(shade, -1, 0.38);
  const auto found = find_markings(painted.photo, painted.map, painted.ground, load_shapes(LOTWEAR_MODELS)).footprints;
  ASSERT_EQ(found.size(), 2U);
  for (const Footprint& f : found) EXPECT_NEAR(f.width_mm, 101.6, 8);
}

/// The finder's map without what lies in the photo's upper part, where `rows` of it begin.
void unseen_above(double rows, PaintMap& map) {
  for (cv::Mat* layer : {&map.footprint, &map.guess, &map.top_coat}) layer->rowRange(0, static_cast<int>(rows * layer->rows)).setTo(0);
}

TEST(FindMarkings, ALineOfWhichTheFinderSeesHalfIsFollowedIntoTheShade) {
  PaintedScene scene;
  scene.things = {{{rectangle({0, 0}, 1300, 101.6, 1.3)}, FinderKind::line}};
  auto painted = paint_photo(scene);
  painted.ground.source = "scale-sheet";
  unseen_above(0.5, painted.map);
  cv::Mat shade = painted.photo.rgb.rowRange(0, painted.photo.rgb.rows / 2);
  shade.convertTo(shade, -1, 0.5);
  const auto found = find_markings(painted.photo, painted.map, painted.ground, load_shapes(LOTWEAR_MODELS)).footprints;
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].length_mm, 1300, 15);
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.96);
}

TEST(FindMarkings, ALineThatStopsShortOfAnotherEndsThere) {
  for (const double gap : {60.0, 250.0}) {
    PaintedScene scene;
    const GroundRing line = rectangle({0, -300}, 700, 101.6, 1.5708);
    scene.things = {{{line}, FinderKind::line}, {{rectangle({0, 50 + gap + 50.8}, 1500, 101.6, 0)}, FinderKind::line}};
    // beyond: a stripe as dark as a sealed crack
    scene.things.push_back({{rectangle({0, 500 + gap}, 600, 101.6, 1.5708)}, FinderKind::none, {60, 60, 60}});
    auto painted = paint_photo(scene);
    painted.ground.source = "scale-sheet";
    const auto found = find_markings(painted.photo, painted.map, painted.ground, load_shapes(LOTWEAR_MODELS)).footprints;
    const bool kept = std::any_of(found.begin(), found.end(), [&](const Footprint& f) { return overlap({f.rings.front()}, {line}, 2) > 0.9; });
    EXPECT_TRUE(kept) << gap;
  }
}

TEST(FindMarkings, ALineThatRunsAwayIsKeptAsFarAsItIsWideEnoughToMeasure) {
  PaintedScene scene;
  scene.tilt_deg = 76;
  scene.things = {{{rectangle({0, 3500}, 16000, 101.6, 1.5708)}, FinderKind::line}};
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_TRUE(found[0].cut_off);
  EXPECT_LT(found[0].length_mm, 14000);
  EXPECT_GT(found[0].length_mm, 2000);
}

TEST(FindMarkings, WithoutASheetTheStripeWidthGivesTheScale) {
  PaintedScene scene;
  scene.things = {{{rectangle({0, 0}, 1100, 101.6, 1.2)}, FinderKind::line}};
  auto painted = paint_photo(scene);
  // the holding height was thought to be a tenth more than it is
  Ground off = with_scale(painted.ground, 1.1, "focal-length", Fraction{0.15});
  const Markings found = find_markings(painted.photo, painted.map, off, load_shapes(LOTWEAR_MODELS));
  ASSERT_EQ(found.footprints.size(), 1U);
  EXPECT_EQ(found.ground.source, "stripe-width");
  // five-inch stripes exist too: the answer leans towards them by as much as they are likely
  EXPECT_NEAR(found.footprints[0].length_mm, 1100, 55);
  ASSERT_TRUE(found.ground.scale_error.has_value());
  EXPECT_LT(found.ground.scale_error->value, 0.15);
}

/// A groove in the pavement is a clearer step than the end of a bar in flakes.
TEST(FindMarkings, AWornWideBarEndsWhereItWasPaintedAndNotAtAJoint) {
  PaintedScene scene;
  scene.height = Millimetres{2400}, scene.tilt_deg = 20;
  scene.things = {{{rectangle({0, 0}, 2000, 600, 0.1)}, FinderKind::stop_line}};
  cv::RNG random(7);
  for (int i = 0; i < 100; ++i)
    scene.gone.push_back(rectangle({random.uniform(-1050.0, 1050.0), random.uniform(-400.0, 400.0)}, 150, 80, random.uniform(0.0, 3.1)));
  testing::PaintedPhoto painted = paint_photo(scene);
  // the map knows what has come off, as the finder does
  for (cv::Mat* map : {&painted.map.footprint, &painted.map.guess}) cv::morphologyEx(*map, *map, cv::MORPH_CLOSE, cv::Mat::ones(31, 31, CV_8U));
  const GroundPoint along{std::cos(0.1), std::sin(0.1)};
  for (const double at : {-780.0, 780.0}) {
    std::vector<cv::Point> groove;
    for (const ImagePoint& p : painted.ground.image_from_ground(rectangle(along * at, 12, 900, 0.1)))
      groove.emplace_back(static_cast<int>(p.x), static_cast<int>(p.y));
    cv::fillConvexPoly(painted.photo.rgb, groove, cv::Scalar(30, 30, 30));
  }
  const auto found = found_in(painted);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].length_mm, 2000, 80);
}

TEST(FindMarkings, AnArrowThatLostTheLinkToItsOtherHeadHasTwo) {
  constexpr double kLength = 1500, kTurn = 0.3, kHead = 0.265, kLink = 0.09;  // head and link in lengths, as usually drawn
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.kind != Kind::arrow_left_right) continue;
    PaintedScene scene;
    scene.height = Millimetres{2400};
    scene.things = {{shape_rings(shape, kLength, kTurn, {0, 0}), FinderKind::arrow}};
    GroundPoint tip{1e9, 0};
    for (const GroundRing& ring : outline(shape, kLength, usual_values(shape))) {
      for (const GroundPoint& p : ring) tip = p.x < tip.x ? p : tip;
    }
    const double from = tip.x + kHead * kLength, to = from + kLink * kLength, half = 0.13 * kLength;
    scene.gone = {{{from, tip.y - half}, {to, tip.y - half}, {to, tip.y + half}, {from, tip.y + half}}};
    for (GroundPoint& p : scene.gone[0])
      p = {std::cos(kTurn) * p.x - std::sin(kTurn) * p.y, std::sin(kTurn) * p.x + std::cos(kTurn) * p.y};
    const auto found = found_in(scene);
    ASSERT_EQ(found.size(), 1U) << shape.name;
    EXPECT_EQ(found[0].kind, Kind::arrow_left_right) << shape.name;
    EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.9) << shape.name;
  }
}

/// The finder's haze covers what little lies between a bar's end and the photo's border.
TEST(FindMarkings, ABarThatEndsJustWithinThePhotoEndsThere) {
  for (const bool reaches_border : {false, true}) {
    PaintedScene scene;
    scene.tilt_deg = 0;
    // the border lies 782 mm from the middle
    const double length = reaches_border ? 1000 : 900;
    scene.things = {{{rectangle({0, 310 + (length - 900) / 2}, length, 300, std::numbers::pi / 2)}, FinderKind::stop_line}};
    testing::PaintedPhoto painted = paint_photo(scene);
    const ImageRing seen = painted.ground.image_from_ground(scene.things[0].rings[0]);
    std::vector<cv::Point> corners;
    for (const ImagePoint& p : seen) corners.emplace_back(static_cast<int>(p.x / painted.map.photo_per_cell), static_cast<int>(p.y / painted.map.photo_per_cell));
    cv::Rect box = cv::boundingRect(corners);
    const bool below = box.y + box.height / 2 > painted.map.footprint.rows / 2;
    if (below) box.height = painted.map.footprint.rows - box.y;
    else box.height += box.y, box.y = 0;
    for (cv::Mat* map : {&painted.map.footprint, &painted.map.guess, &painted.map.top_coat}) (*map)(box & cv::Rect({0, 0}, map->size())).setTo(1);
    const auto found = found_in(painted);
    ASSERT_EQ(found.size(), 1U);
    EXPECT_EQ(found[0].cut_off, reaches_border);
    if (!reaches_border) {
      EXPECT_GT(overlap(found[0].rings, scene.things[0].rings, 2), 0.97);
    }
  }
}

TEST(FindMarkings, BarePavementGivesNone) { EXPECT_TRUE(found_in(PaintedScene{}).empty()); }

}  // namespace
}  // namespace lotwear
