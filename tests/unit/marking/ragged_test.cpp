// Outlines of paint and of what is none.
#include "marking/ragged.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "marking/shapes.hpp"

namespace lotwear {
namespace {

/// A round outline whose radius wanders: `depth` of it, over bays of about `bay` radians.
GroundRing frayed(double radius, double depth, double bay, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> any(-1, 1);
  GroundRing ring;
  const int n = static_cast<int>(2 * std::numbers::pi / bay);
  for (int i = 0; i < n; ++i) {
    const double r = radius * (1 + depth * (i % 2 == 0 ? 1 : -1) * (0.6 + 0.4 * any(random))),
                 turn = 2 * std::numbers::pi * i / n;
    ring.push_back({r * std::cos(turn), r * std::sin(turn)});
  }
  return ring;
}

GroundRing bar(double x, double y, double wide, double high) {
  return {{x, y}, {x + wide, y}, {x + wide, y + high}, {x, y + high}};
}

TEST(Ragged, PaintIsNot) {
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS))
    EXPECT_FALSE(is_ragged(outline(shape, 1800, usual_values(shape)))) << shape.name;
  std::vector<GroundRing> ladder;
  for (int i = 0; i < 12; ++i)
    ladder.push_back(bar(600 * i, 0, 300, 3000));
  EXPECT_FALSE(is_ragged(ladder));
  EXPECT_FALSE(is_ragged({frayed(400, 0, 0.05, 1)}));  // a round sign
}

TEST(Ragged, AFlakedRimDoesNotMakeIt) {
  // chips of 15 mm along a bar of 300 by 2400
  std::mt19937 random(3);
  std::uniform_real_distribution<double> chip(0, 15);
  GroundRing worn;
  for (int i = 0; i <= 160; ++i)
    worn.push_back({15.0 * i, chip(random)});
  for (int i = 160; i >= 0; --i)
    worn.push_back({15.0 * i, 300 - chip(random)});
  EXPECT_FALSE(is_ragged({worn}));
}

TEST(Ragged, WhatFraysAllAroundIs) {
  EXPECT_TRUE(is_ragged({frayed(900, 0.2, 0.03, 1)}));
  EXPECT_TRUE(is_ragged({frayed(900, 0.2, 0.04, 2), frayed(300, 0.25, 0.05, 3)}));
}

TEST(Ragged, NothingIsNot) { EXPECT_FALSE(is_ragged({})); }

}  // namespace
}  // namespace lotwear
