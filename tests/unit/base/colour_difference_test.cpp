#include "base/colour_difference.hpp"

#include <gtest/gtest.h>

namespace lotwear {
namespace {

struct Pair {
  Lab one, other;
  double difference;
};

// Sharma, Wu and Dalal, Color Res. Appl. 30(1), 2005, Table 1: chosen to catch every known slip in the hue arithmetic.
constexpr Pair kPublished[] = {
    {{50, 2.6772, -79.7751}, {50, 0, -82.7485}, 2.0425},
    {{50, 3.1571, -77.2803}, {50, 0, -82.7485}, 2.8615},
    {{50, 2.8361, -74.0200}, {50, 0, -82.7485}, 3.4412},
    {{50, -1.3802, -84.2814}, {50, 0, -82.7485}, 1.0000},
    {{50, -1.1848, -84.8006}, {50, 0, -82.7485}, 1.0000},
    {{50, -0.9009, -85.5211}, {50, 0, -82.7485}, 1.0000},
    {{50, 0, 0}, {50, -1, 2}, 2.3669},
    {{50, 2.4900, -0.0010}, {50, -2.4900, 0.0009}, 7.1792},
    {{50, 2.4900, -0.0010}, {50, -2.4900, 0.0011}, 7.2195},
    {{50, 2.5, 0}, {50, 0, -2.5}, 4.3065},
    {{50, 2.5, 0}, {73, 25, -18}, 27.1492},
    {{60.2574, -34.0099, 36.2677}, {60.4626, -34.1751, 39.4387}, 1.2644},
    {{2.0776, 0.0795, -1.1350}, {0.9033, -0.0636, -0.5514}, 0.9082},
};

TEST(ColourDifference, AgreesWithThePublishedPairs) {
  for (const Pair& p : kPublished)
    EXPECT_NEAR(colour_difference(p.one, p.other), p.difference, 5e-5) << p.one.a;
}

TEST(ColourDifference, IsTheSameBothWaysAndZeroOnlyWithItself) {
  for (const Pair& p : kPublished) {
    EXPECT_NEAR(colour_difference(p.one, p.other), colour_difference(p.other, p.one), 1e-12);
    EXPECT_EQ(colour_difference(p.one, p.one), 0);
    EXPECT_GT(colour_difference(p.one, p.other), 0.5);
  }
}

// Arithmetic with the matrix of IEC 61966-2-1: XYZ x 100 = 95.05 100.00 108.90.
TEST(Xyz, WhiteIsD65) {
  const Xyz white = xyz_from_linear({1, 1, 1});
  EXPECT_NEAR(white.x, 0.9505, 1e-12);
  EXPECT_NEAR(white.y, 1.0000, 1e-12);
  EXPECT_NEAR(white.z, 1.0890, 1e-12);
}

// Arithmetic, same matrix: sRGB (255, 255, 0) has chromaticity .4193, .5053; (255, 200, 0) .4644, .4695 and Y .626.
TEST(Xyz, YellowHasItsChromaticity) {
  const Xyz pure = xyz_from_linear({1, 1, 0});
  EXPECT_NEAR(pure.x / (pure.x + pure.y + pure.z), 0.4193, 5e-5);
  EXPECT_NEAR(pure.y / (pure.x + pure.y + pure.z), 0.5053, 5e-5);

  constexpr double green = 0.577580;  // ((200/255 + .055) / 1.055) ^ 2.4
  const Xyz warm = xyz_from_linear({1, green, 0});
  EXPECT_NEAR(warm.x / (warm.x + warm.y + warm.z), 0.4644, 5e-5);
  EXPECT_NEAR(warm.y / (warm.x + warm.y + warm.z), 0.4695, 5e-5);
  EXPECT_NEAR(warm.y, 0.626, 5e-4);
}

TEST(Lab, GreysHaveNoChromaAndTheEndsAreExact) {
  for (const double v : {0.0, 0.001, 0.0088, 0.18, 1.0}) {
    const Lab grey = lab_from_linear({v, v, v});
    EXPECT_NEAR(grey.a, 0, 1e-9);
    EXPECT_NEAR(grey.b, 0, 1e-9);
  }
  EXPECT_NEAR(lab_from_linear({0, 0, 0}).l, 0, 1e-12);
  EXPECT_NEAR(lab_from_linear({1, 1, 1}).l, 100, 1e-12);
}

// CIE 15: the two branches of the curve meet in value and slope at Y = (6/29)^3.
TEST(Lab, CurveHasNoStepAtItsJoint) {
  constexpr double joint = 216.0 / 24389.0, step = 1e-7;
  const auto l = [](double v) { return lab_from_linear({v, v, v}).l; };
  EXPECT_NEAR(l(joint), 8, 1e-9);
  EXPECT_NEAR((l(joint + step) - l(joint)) / (l(joint) - l(joint - step)), 1, 1e-3);
}

}  // namespace
}  // namespace lotwear
