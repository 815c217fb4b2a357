// The paint's place and the mixture on distributions drawn from known ones.
#include "measure/mixture.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <vector>

namespace lotwear {
namespace {

struct Drawn {
  Histogram inside{-1, 2, 300}, beside{-1, 2, 300};
};
Drawn drawn(double paint, double part, double paint_spread) {
  Drawn d;
  std::mt19937 dice(7);
  std::normal_distribution<double> bare(0, 0.08), coat(1, paint_spread);
  std::uniform_real_distribution<double> any(0, 1);
  for (int i = 0; i < 40000; ++i) {
    d.beside.add(bare(dice));
    const double kind = any(dice);
    d.inside.add(kind < paint ? coat(dice) : kind < paint + part ? any(dice) + 0.5 * bare(dice) : bare(dice));
  }
  return d;
}

TEST(FindPaint, FindsTheUpperMode) {
  for (const double paint : {0.95, 0.6, 0.3, 0.12}) {
    const Drawn d = drawn(paint, 0.05, 0.05);
    const PaintPlace place = find_paint(d.inside, d.beside, 0.08, 1.5);
    EXPECT_TRUE(place.stands_out) << paint;
    EXPECT_NEAR(place.at, 1, 0.03) << paint;
  }
}

TEST(FindPaint, SaysWhenNothingStandsOut) {
  const Drawn d = drawn(0.0, 0.3, 0.05);
  const PaintPlace place = find_paint(d.inside, d.beside, 0.08, 1.5);
  EXPECT_FALSE(place.stands_out);
  EXPECT_NEAR(place.at, 1, 0.15);
  EXPECT_GT(place.error, 0.08);
}

TEST(FindPaint, ASlowTailReachesBeyondItsSixPercentPoint) {
  // Worn finer than the picture: shares fall off evenly towards whole paint, which next to no pixel shows.
  Drawn d;
  std::mt19937 dice(11);
  std::normal_distribution<double> bare(0, 0.04);
  std::uniform_real_distribution<double> any(0, 1);
  std::vector<double> shares;
  for (int i = 0; i < 40000; ++i) {
    d.beside.add(bare(dice));
    shares.push_back(std::min({any(dice), any(dice), any(dice)}) + bare(dice));
    d.inside.add(shares.back());
  }
  std::sort(shares.begin(), shares.end());
  const double six_percent = shares[static_cast<std::size_t>(0.94 * static_cast<double>(shares.size()))];
  const PaintPlace place = find_paint(d.inside, d.beside, 0.04, 1.5);
  EXPECT_FALSE(place.stands_out);
  EXPECT_GT(place.at, six_percent + 0.05);
  EXPECT_LT(place.at, 1.05);
}

TEST(FitMixture, WeightsAndMean) {
  const Drawn d = drawn(0.5, 0.2, 0.06);
  const Mixture m = fit_mixture(d.inside, d.beside, 0.06);
  EXPECT_NEAR(m.paint, 0.5, 0.05);
  EXPECT_NEAR(m.part, 0.2, 0.06);
  EXPECT_NEAR(m.mean, 0.6, 0.02);
  EXPECT_NEAR(m.bare_at, 0, 0.02);
}

}  // namespace
}  // namespace lotwear
