// Area and edge of outlines whose parts cross or touch, against sums done by hand.
#include "measure/size.hpp"

#include <gtest/gtest.h>

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
  EXPECT_NEAR(size.perimeter_m, 2 * 8.6 + 3 * 5.4 - 6 * 1.4, 1e-3);
}

TEST(SizeOf, BarsThatTouchOrLieApartAddUp) {
  const Size touching = size_in_metres({box(0, 0, 1000, 200), box(0, 200, 200, 1200)});
  EXPECT_NEAR(touching.area_m2, 0.4, 1e-4);
  const Size apart = size_in_metres({box(0, 0, 1000, 200), box(0, 500, 1000, 700)});
  EXPECT_NEAR(apart.area_m2, 0.4, 1e-6);
  EXPECT_NEAR(apart.perimeter_m, 4.8, 1e-6);
}

}  // namespace
}  // namespace lotwear
