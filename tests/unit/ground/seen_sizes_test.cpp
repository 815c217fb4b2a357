// Stripes laid on a known ground and seen by a known camera: what their widths say about its height and its tilt.
#include "ground/seen_sizes.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "ground/likely_view.hpp"
#include "support/ground_scene.hpp"

namespace lotwear {
namespace {

const cv::Size kPhoto(4032, 3024);
constexpr double kFocal = 2950, kDegree = std::numbers::pi / 180, kHand = 1500, kHandSpread = 0.17;

SizeSeen stripe(const Ground& ground, GroundPoint middle, double width_mm) {
  const auto seen = [&](double x, double y) { return ground.image_from_ground(middle + GroundPoint{x, y}); };
  SizeSeen size;
  // a stripe across the line of sight: the one whose width a wrong tilt changes most
  size.from = seen(0, -width_mm / 2), size.to = seen(0, width_mm / 2);
  size.axis = SizeSeen::Axis{seen(-800, 0), seen(800, 0)};
  size.error = 0.02;
  return size;
}

SizeFamily lines() {
  SizeFamily family;
  family.usual = {{101.6, 0.8, 0.03}, {152.4, 0.2, 0.03}};
  family.unusual = 0.05;
  return family;
}

struct Seen {
  View truth;
  SizesSeen sizes;
};

/// Stripes near, in the middle and far away.
Seen three_stripes(double tilt_deg, double height_mm, double width_mm) {
  const View truth = test::view_from(tilt_deg, 0, height_mm / std::cos(tilt_deg * kDegree), kFocal);
  const Ground ground = ground_of(truth, kPhoto);
  SizeFamily family = lines();
  for (const double y : {500.0, 1500.0, 2500.0}) {
    const GroundPoint at = ground.ground_from_image({2016, y});
    family.seen.push_back(stripe(ground, at, width_mm));
  }
  return {truth, {{family}, {}}};
}

TEST(SizeLikelihood, FourInchStripesGiveTheHeight) {
  const Seen seen = three_stripes(40, 1800, 101.6);
  const HeightBelief height = SizeLikelihood(seen.sizes, std::log(kHand), kHandSpread).of(seen.truth, kPhoto);
  EXPECT_NEAR(height.middle, std::log(1800), 0.02);
  EXPECT_LT(std::sqrt(height.variance), 0.09) << "some chance of six inches is left";
}

TEST(SizeLikelihood, AHandTellsFourInchesFromSix) {
  // Six-inch stripes: as four-inch ones the camera would hang at 1067 mm.
  const Seen seen = three_stripes(40, 1600, 152.4);
  const HeightBelief height = SizeLikelihood(seen.sizes, std::log(kHand), kHandSpread).of(seen.truth, kPhoto);
  EXPECT_NEAR(height.middle, std::log(1600), 0.04);
}

TEST(SizeLikelihood, EqualWidthsAreLikelierUnderTheTrueTilt) {
  const Seen seen = three_stripes(45, 1500, 130);
  const SizeLikelihood likelihood(seen.sizes, std::log(kHand), kHandSpread);
  const double truth = likelihood.of(seen.truth, kPhoto).log_likelihood;
  for (const double off : {-12.0, 12.0}) {
    EXPECT_GT(truth, likelihood.of(moved(seen.truth, {off * kDegree, 0, 0, 0}), kPhoto).log_likelihood + 1) << off;
  }
}

TEST(SizeLikelihood, NothingSeenLeavesTheHand) {
  const HeightBelief height =
      SizeLikelihood({}, std::log(kHand), kHandSpread).of(test::view_from(40, 0, 2000, kFocal), kPhoto);
  EXPECT_NEAR(height.middle, std::log(kHand), 0.005);
  EXPECT_NEAR(std::sqrt(height.variance), kHandSpread, 0.005);
  EXPECT_NEAR(height.log_likelihood, 0, 0.01);
}

TEST(SizeLikelihood, WhatThePhotoCutsIsALowerBound) {
  const View view = test::view_from(30, 0, 1500 / std::cos(30 * kDegree), kFocal);
  const Ground ground = ground_of(view, kPhoto);
  const auto belief = [&](double long_mm) {
    SizeFamily arrows;
    arrows.usual = {{2000, 1, 0.1}};
    arrows.unusual = 0.02;
    const GroundPoint at = ground.ground_from_image({2016, 1512});
    SizeSeen seen{ground.image_from_ground(at), ground.image_from_ground(at + GroundPoint{long_mm, 0}), std::nullopt,
                  0.03, true};
    arrows.seen.push_back(seen);
    return SizeLikelihood({{arrows}, {}}, std::log(kHand), kHandSpread).of(view, kPhoto);
  };
  EXPECT_NEAR(belief(900).middle, std::log(kHand), 0.02) << "half an arrow may belong to a whole one";
  EXPECT_LT(belief(3000).middle, std::log(kHand) - 0.1) << "more than a whole one: the camera hangs lower";
}

TEST(SizeLikelihood, ASymbolsProportionsTellTheTilt) {
  const View view = test::view_from(50, 0, 1500 / std::cos(50 * kDegree), kFocal);
  const Ground ground = ground_of(view, kPhoto);
  const GroundPoint at = ground.ground_from_image({2016, 1512});
  ProportionSeen symbol;
  symbol.usual = 0.9;
  symbol.spread = 0.08;
  for (const GroundPoint p : {GroundPoint{-450, -500}, {450, -500}, {450, 500}, {-450, 500}})
    symbol.outline.push_back(ground.image_from_ground(at + p));
  symbol.tail = ground.image_from_ground(at + GroundPoint{0, 500});
  symbol.tip = ground.image_from_ground(at + GroundPoint{0, -500});
  const SizeLikelihood likelihood({{}, {symbol}}, std::log(kHand), kHandSpread);
  const double truth = likelihood.of(view, kPhoto).log_likelihood;
  EXPECT_GT(truth, likelihood.of(moved(view, {-25 * kDegree, 0, 0, 0}), kPhoto).log_likelihood + 2);
}

// Poses drawn as phones are held, widths as crews keep them: the stated error of lengths covers what comes.
TEST(LikelyViewWithSizes, StatesItsScaleHonestly) {
  std::mt19937 random(23);
  std::normal_distribution<double> normal(0, 1);
  double squares = 0, beyond = 0, stated = 0;
  constexpr int kLots = 60;
  for (int i = 0; i < kLots; ++i) {
    const double tilt = std::clamp(38 + 14 * normal(random), 8.0, 62.0),
                 height = kHand * std::exp(0.13 * normal(random));
    const View truth = test::view_from(tilt, 2 * normal(random), height / std::cos(tilt * kDegree), kFocal);
    const Ground ground = ground_of(truth, kPhoto);
    const double width = (i % 5 == 0 ? 152.4 : 101.6) * std::exp(0.03 * normal(random));
    PaintSeen seen;
    SizeFamily family = lines();
    for (const double y : {700.0, 1500.0, 2300.0}) {
      const GroundPoint at = ground.ground_from_image({2016, y});
      family.seen.push_back(stripe(ground, at, width * std::exp(0.02 * normal(random))));
      DrawnObject object;
      for (const double side : {-0.5, 0.5}) {
        EdgeLine edge;
        edge.from = ground.image_from_ground(at + GroundPoint{-800, side * width});
        edge.to = ground.image_from_ground(at + GroundPoint{800, side * width});
        edge.offset_error = 0.4, edge.angle_error = 0.001;
        const double turned = 0.001 * normal(random) * length(edge.to - edge.from);
        edge.to.y += turned;
        object.push_back({edge, 0, 0.15 * kDegree, {}});
      }
      seen.objects.push_back(object);
    }
    seen.sizes.families.push_back(family);
    const LikelyView likely = likely_view(hand_held({kFocal, true}), seen, {}, kPhoto);
    const Ground found = ground_of(likely.belief.view, kPhoto);
    const GroundPoint m = ground.ground_from_image({2016, 1512});
    const double said = length(found.ground_from_image(ground.image_from_ground(m + GroundPoint{200, 0})) -
                               found.ground_from_image(ground.image_from_ground(m - GroundPoint{200, 0})));
    const double error = length_errors(likely.belief, kPhoto, {{2016, 1512}}).scale, z = std::log(said / 400) / error;
    squares += z * z;
    beyond += std::abs(z) > 3 ? 1 : 0;
    stated += error / kLots;
  }
  EXPECT_GT(std::sqrt(squares / kLots), 0.3);
  EXPECT_LT(std::sqrt(squares / kLots), 1.3);
  EXPECT_LE(beyond, 2);
  EXPECT_LT(stated, 0.12) << "well below a hand's 0.17";
}

/// A turned L: the angles of its edges are its drawing's; one of them wanders with a free proportion.
DrawnObject corner_of(const Ground& ground, GroundPoint at, double turn, double error, std::mt19937& random) {
  std::normal_distribution<double> normal(0, 1);
  DrawnObject object;
  const auto add = [&](GroundPoint from, GroundPoint to, double drawn, std::vector<double> by) {
    const double c = std::cos(turn), s = std::sin(turn);
    const auto placed = [&](GroundPoint p) {
      return ground.image_from_ground(at + GroundPoint{c * p.x - s * p.y, s * p.x + c * p.y});
    };
    EdgeLine edge;
    edge.from = placed(from), edge.to = placed(to);
    const ImagePoint d = edge.to - edge.from;
    edge.to = edge.to + ImagePoint{-d.y, d.x} * (error * normal(random));
    edge.offset_error = 0.4, edge.angle_error = error;
    object.push_back({edge, drawn, 0.003, std::move(by)});
  };
  add({-600, -300}, {600, -300}, 0, {0});
  add({-600, 300}, {600, 300}, 0, {0});
  add({-600, -300}, {-600, 300}, std::numbers::pi / 2, {0});
  add({600, 300}, {300, -300}, std::atan2(600.0, 200.0),
      {0.3});  // drawn otherwise than painted: its proportion is free
  return object;
}

TEST(LikelyViewWithObjects, ADrawingsAnglesGiveTheTiltWithinTheStatedError) {
  double squares = 0;
  constexpr int kLots = 40;
  std::mt19937 random(31);
  std::vector<double> errors;
  for (int i = 0; i < kLots; ++i) {
    const double tilt = 12 + 1.2 * i;
    const View truth = test::view_from(tilt, 1, 1500 / std::cos(tilt * kDegree), kFocal);
    const Ground ground = ground_of(truth, kPhoto);
    PaintSeen seen;
    seen.objects.push_back(corner_of(ground, ground.ground_from_image({2016, 1512}), 0.4 + 0.13 * i, 0.002, random));
    const LikelyView likely = likely_view(hand_held({kFocal, true}), seen, {}, kPhoto);
    const double off = likely.belief.view.pitch - truth.pitch;
    errors.push_back(std::abs(off) / kDegree);
    squares += off * off / likely.belief.covariance(0, 0);
  }
  std::sort(errors.begin(), errors.end());
  EXPECT_LT(errors[kLots / 2], 3);
  EXPECT_LT(std::sqrt(squares / kLots), 1.4);
}

}  // namespace
}  // namespace lotwear
