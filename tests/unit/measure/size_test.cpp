// Area and edge of outlines whose parts cross or touch, against sums done by hand.
#include "measure/size.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace lotwear {
namespace {

GroundRing box(double x0, double y0, double x1, double y1) { return {{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}; }

Size size_in_metres(std::vector<GroundRing> rings) {
  Footprint footprint;
  footprint.rings = std::move(rings);
  Ground ground;
  ground.scale_error = Fraction{0.01};
  return size_of(footprint, ground).value();
}

TEST(SizeOf, BarsThatCrossArePaintedOnce) {
  // A ladder far from the ground's origin: two rails of 4 m by 0.3 m, three rungs that run through both.
  std::vector<GroundRing> ladder{box(20'000, 5000, 24'000, 5300), box(20'000, 7000, 24'000, 7300)};
  for (const double x : {20'500.0, 21'800.0, 23'100.0})
    ladder.push_back(box(x, 5000, x + 400, 7300));
  const Size size = size_in_metres(ladder);
  EXPECT_NEAR(size.area_m2, 2 * 4 * 0.3 + 3 * 0.4 * 1.7, 1e-3);
  // Each crossing takes away the edges of the square that both share.
  EXPECT_NEAR(size.perimeter_m, 2 * 8.6 + 3 * 5.4 - 6 * 1.4, 0.1);
}

TEST(SizeOf, WhereThreeBarsCrossIsPaintedOnceAsWell) {
  // Beams of a square cross of 1 m by 0.2 m, and a third over their middle.
  const Size size = size_in_metres({box(0, 400, 1000, 600), box(400, 0, 600, 1000), box(400, 300, 600, 700)});
  EXPECT_NEAR(size.area_m2, 0.2 + 0.2 - 0.04, 1e-3);
  EXPECT_NEAR(size.perimeter_m, 4 * 0.2 + 8 * 0.4, 0.06);
}

TEST(SizeOf, BentBarsThatCrossArePaintedOnce) {
  // Two bars of 0.1 m along arcs of 2 m radius, one the other's mirror image: they cross twice.
  GroundRing up, down;
  const auto arc = [](double radius, double t) {
    return GroundPoint{radius * std::sin(t), radius * std::cos(t) - 1900};
  };
  for (int i = -40; i <= 40; ++i)
    up.push_back(arc(2050, i * 0.01));
  for (int i = 40; i >= -40; --i)
    up.push_back(arc(1950, i * 0.01));
  for (const GroundPoint& p : up)
    down.push_back({p.x, -p.y});
  const auto on = [](double x, double y) {
    const double radius = std::hypot(x, y + 1900);
    return radius > 1950 && radius < 2050 && std::abs(std::atan2(x, y + 1900)) < 0.4;
  };
  double counted = 0;
  for (double x = -900; x < 900; x += 2) {
    for (double y = -300; y < 300; y += 2)
      counted += on(x, y) || on(x, -y) ? 4e-6 : 0;
  }
  EXPECT_NEAR(size_in_metres({up, down}).area_m2, counted, 1e-3);
}

TEST(SizeOf, BarsThatTouchOrLieApartAddUp) {
  const Size touching = size_in_metres({box(0, 0, 1000, 200), box(0, 200, 200, 1200)});
  EXPECT_NEAR(touching.area_m2, 0.4, 1e-3);
  EXPECT_NEAR(touching.perimeter_m, 2 * (1 + 1.2), 0.03);  // an L: nobody masks between its two beams
  GroundRing other_way = box(0, 200, 200, 1200);
  std::reverse(other_way.begin(), other_way.end());
  EXPECT_NEAR(size_in_metres({box(0, 0, 1000, 200), other_way}).perimeter_m, touching.perimeter_m, 1e-6);
  const Size apart = size_in_metres({box(0, 0, 1000, 200), box(0, 500, 1000, 700)});
  EXPECT_NEAR(apart.area_m2, 0.4, 1e-6);
  EXPECT_NEAR(apart.perimeter_m, 4.8, 1e-6);
}

TEST(SizeOf, BarsThatTouchAreOneHoweverTheyLie) {
  // A rail and three rungs that end on it, turned by a bit at a time: no corner falls on a whole millimetre.
  for (int turn = 0; turn < 90; ++turn) {
    std::vector<GroundRing> comb{box(0, 0, 3000, 200)};
    for (const double x : {300.0, 1300.0, 2300.0})
      comb.push_back(box(x, 200, x + 400, 1400));
    for (GroundRing& ring : comb) {
      for (GroundPoint& p : ring)
        p = {9000 + p.x * std::cos(turn) - p.y * std::sin(turn), p.x * std::sin(turn) + p.y * std::cos(turn)};
    }
    const Size size = size_in_metres(comb);
    EXPECT_NEAR(size.area_m2, 3 * 0.2 + 3 * 0.4 * 1.2, 1e-5) << turn;
    EXPECT_NEAR(size.perimeter_m, 2 * 3.2 + 3 * 2 * 1.2, 1e-4) << turn;
  }
}

TEST(SizeOf, NobodyMasksASlitButAGapIsMasked) {
  const auto edge = [](double gap) { return size_in_metres({box(0, 0, 1000, 200), box(0, 200 + gap, 1000, 400)}); };
  EXPECT_NEAR(edge(2).perimeter_m, 2 * 1.4, 1e-4);
  EXPECT_NEAR(edge(2).area_m2, 0.398, 1e-6);  // paint only
  EXPECT_NEAR(edge(4).perimeter_m, 4 + 2 * 0.396, 1e-4);
}

TEST(SizeOf, TheLineToAHoleIsNoEdge) {
  // A letter's counter is drawn with its outline: in over a line, round the hole the other way, and back.
  const GroundRing letter{{0, 0},     {500, 0},   {500, 500}, {0, 500},   {0, 0},
                          {100, 100}, {100, 400}, {400, 400}, {400, 100}, {100, 100}};
  const Size size = size_in_metres({letter});
  EXPECT_NEAR(size.area_m2, 0.25 - 0.09, 1e-6);
  EXPECT_NEAR(size.perimeter_m, 2.0 + 1.2, 1e-4);
}

TEST(SizeOf, SharpCornersStayAsTheyAre) {
  const GroundRing barb{{0, 0}, {1000, 150}, {300, 150}, {1000, 300}, {0, 450}};  // a tip of 9 degrees, a notch of 12
  EXPECT_NEAR(size_in_metres({barb}).perimeter_m, perimeter(barb) * 1e-3, 1e-3);
}

}  // namespace
}  // namespace lotwear
