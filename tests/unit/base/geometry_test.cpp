#include "base/geometry.hpp"

#include <gtest/gtest.h>

#include "base/trouble.hpp"

namespace lotwear {
namespace {

TEST(Geometry, SquareHasItsAreaPerimeterAndCentre) {
  const GroundRing square = {{0, 0}, {2, 0}, {2, 2}, {0, 2}};
  EXPECT_DOUBLE_EQ(area(square), 4);
  EXPECT_DOUBLE_EQ(perimeter(square), 8);
  EXPECT_EQ(centroid(square), (GroundPoint{1, 1}));
}

TEST(Geometry, AreaIgnoresDirection) {
  EXPECT_DOUBLE_EQ(area(GroundRing{{0, 0}, {0, 3}, {4, 3}}), area(GroundRing{{4, 3}, {0, 3}, {0, 0}}));
}

TEST(Projective, ThereAndBackAgain) {
  const GroundFromImage map({1.2, 0.1, 5, -0.2, 2.0, 7, 1e-4, -2e-4, 1});
  const ImagePoint p{123.5, 456.25};
  const ImagePoint back = map.inverse()(map(p));
  EXPECT_NEAR(back.x, p.x, 1e-9);
  EXPECT_NEAR(back.y, p.y, 1e-9);
}

TEST(Projective, RefusesAFlatMatrix) { EXPECT_THROW(GroundFromImage({1, 2, 3, 2, 4, 6, 0, 0, 1}), Broken); }

}  // namespace
}  // namespace lotwear
