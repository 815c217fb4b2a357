// Edges of painted shapes, laid on a known ground, projected and disturbed: the pose comes back, and its error is
// honest.
#include "ground/likely_view.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "support/ground_scene.hpp"

namespace lotwear {
namespace {

const cv::Size kPhoto(4032, 3024);
constexpr double kFocal = 2950;

GroundRing bar(GroundPoint middle, double angle, double length_mm, double width_mm) {
  const GroundPoint u{std::cos(angle), std::sin(angle)}, v{-u.y, u.x};
  const GroundPoint l = u * (length_mm / 2), w = v * (width_mm / 2);
  return {middle - l - w, middle + l - w, middle + l + w, middle - l + w};
}

std::vector<GroundRing> stalls(GroundPoint middle, double angle) {
  std::vector<GroundRing> rings;
  for (const double off : {-700.0, 0.0, 700.0}) {
    rings.push_back(bar(middle + GroundPoint{-std::sin(angle), std::cos(angle)} * off, angle, 2500, 100));
  }
  return rings;
}

/// Edges as seen in the photo; `error_px` of noise at the ends, and said so.
std::vector<EdgeLine> seen(const View& view, const std::vector<GroundRing>& rings, double error_px,
                           std::mt19937& random) {
  const Ground ground = ground_of(view, kPhoto);
  std::normal_distribution<double> noise(0, 1);
  std::vector<EdgeLine> edges;
  for (const GroundRing& ring : rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const GroundPoint a = ring[i], d = ring[(i + 1) % ring.size()] - a;
      std::vector<ImagePoint> inside;
      for (int k = 0; k <= 50; ++k) {
        const GroundPoint g = a + d * (k / 50.0);
        if (ground.image_from_ground.depth(g) < 100) continue;
        const ImagePoint p = ground.image_from_ground(g);
        if (p.x > 0 && p.y > 0 && p.x < kPhoto.width && p.y < kPhoto.height) inside.push_back(p);
      }
      if (inside.size() < 2) continue;
      const ImagePoint from = inside.front(), along = inside.back() - from;
      const double long_px = length(along);
      if (long_px < 80) continue;
      const ImagePoint side{-along.y / long_px, along.x / long_px};
      EdgeLine edge;
      edge.offset_error = error_px;
      edge.angle_error = 3.5 * error_px / long_px;
      const double off = noise(random) * edge.offset_error, turned = noise(random) * edge.angle_error * long_px / 2;
      edge.from = from + side * (off - turned);
      edge.to = inside.back() + side * (off + turned);
      edges.push_back(edge);
    }
  }
  std::sort(edges.begin(), edges.end(),
            [](const EdgeLine& a, const EdgeLine& b) { return length(a.to - a.from) > length(b.to - b.from); });
  return edges;
}

GroundPoint looked_at(const View& view) {
  return ground_of(view, kPhoto).ground_from_image({kPhoto.width / 2.0, kPhoto.height / 2.0});
}

TEST(LikelyView, RowsOfStallLinesGiveTheTilt) {
  std::mt19937 random(1);
  for (const double tilt : {20.0, 40.0, 60.0}) {
    for (const double angle : {0.6, 1.0, 2.2}) {
      const View truth = test::view_from(tilt, 1.5, 1500 / std::cos(tilt * std::numbers::pi / 180), kFocal);
      const auto likely = likely_view(hand_held({kFocal, true}),
                                      seen(truth, stalls(looked_at(truth), angle), 0.05, random), {}, kPhoto);
      EXPECT_TRUE(likely.from_edges) << tilt << " " << angle;
      const double found = ground_of(likely.belief.view, kPhoto).tilt_deg;
      EXPECT_NEAR(found, tilt, 1.5) << angle;
      EXPECT_NEAR(likely.belief.view.lean, truth.lean, 0.04) << tilt << " " << angle;
    }
  }
}

TEST(LikelyView, WithoutEdgesItSaysWhatIsUsual) {
  const auto likely = likely_view(hand_held({kFocal, true}), PaintSeen{}, {}, kPhoto);
  EXPECT_FALSE(likely.from_edges);
  EXPECT_NEAR(ground_of(likely.belief.view, kPhoto).tilt_deg, 35, 6);
  const LengthErrors errors = length_errors(likely.belief, kPhoto, {{2016, 1512}});
  EXPECT_GT(errors.shape, 0.15);
  EXPECT_GT(errors.scale, 0.15);  // the hand's height alone
}

TEST(LikelyView, OneStripeNarrowsTheTiltAndSaysHowFar) {
  std::mt19937 random(2);
  const View truth = test::view_from(45, 0, 2100, kFocal);
  const auto edges = seen(truth, {bar(looked_at(truth), 1.2, 2500, 100)}, 0.1, random);
  const auto likely = likely_view(hand_held({kFocal, true}), edges, {}, kPhoto);
  const double found = ground_of(likely.belief.view, kPhoto).tilt_deg;
  EXPECT_NEAR(found, 45, 4);
  const LengthErrors none = length_errors(hand_held({kFocal, true}).belief, kPhoto, {{2016, 1512}});
  EXPECT_LT(length_errors(likely.belief, kPhoto, {{2016, 1512}}).shape, 0.6 * none.shape);
}

TEST(LikelyView, KeepsGroundBelowTheHorizon) {
  // A road camera, level: ground is known up to the middle of the picture.
  std::vector<ImagePoint> ground;
  for (int i = 0; i < 24; ++i)
    ground.push_back({168.0 * i + 84, 1650});
  const auto likely = likely_view(hand_held({kFocal, true}), PaintSeen{}, {ground, false}, kPhoto);
  EXPECT_LT(ground_of(likely.belief.view, kPhoto).tilt_deg, 90);
  // Sky that was taken for ground in one column must not turn the picture over: however far up, it weighs no more than a
  // doubt, and the pitch stays within two standard deviations of how phones are held.
  ground.push_back({2000, -40000});
  const auto same = likely_view(hand_held({kFocal, true}), PaintSeen{}, {ground, false}, kPhoto);
  EXPECT_NEAR(same.belief.view.pitch, likely.belief.view.pitch, 0.7);
  EXPECT_GT(same.belief.view.pitch, -0.1);
}

TEST(LikelyView, StrayEdgesSeldomMoveItAndNeverSilently) {
  std::vector<double> errors;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 random(seed);
    const View truth = test::view_from(38, -1, 1900, kFocal);
    auto edges = seen(truth, stalls(looked_at(truth), 0.1 + 0.15 * seed), 0.1, random);
    std::uniform_real_distribution<double> x(200, 3800), y(200, 2800);
    for (int i = 0; i < 3; ++i) {
      EdgeLine stray;
      stray.from = {x(random), y(random)};
      stray.to = {x(random), y(random)};
      stray.offset_error = 0.1;
      stray.angle_error = 0.001;
      edges.push_back(stray);
    }
    const auto likely = likely_view(hand_held({kFocal, true}), edges, {}, kPhoto);
    errors.push_back(std::abs(likely.belief.view.pitch - truth.pitch) * 180 / std::numbers::pi);
    EXPECT_LT(std::abs(likely.belief.view.pitch - truth.pitch), 4 * std::sqrt(likely.belief.covariance(0, 0))) << seed;
  }
  std::sort(errors.begin(), errors.end());
  EXPECT_LT(errors[10], 0.5);
}

TEST(LikelyView, ASheetsPoseIsSharpenedNotReplaced) {
  std::mt19937 random(4);
  const View truth = test::view_from(50, 1, 2400, kFocal);
  ViewPrior sheet;
  sheet.measured = true;
  sheet.belief.view = moved(truth, {0.02, -0.015, 0, 0.01});
  sheet.belief.covariance = cv::Matx44d::diag({4e-4, 4e-4, 1e-6, 1e-4});
  const auto likely = likely_view(sheet, seen(truth, stalls(looked_at(truth), 0.9), 0.05, random), {}, kPhoto);
  EXPECT_LT(std::abs(likely.belief.view.pitch - truth.pitch), 0.008);
  EXPECT_LT(likely.belief.covariance(0, 0), sheet.belief.covariance(0, 0) / 4);
  EXPECT_NEAR(likely.belief.view.log_height, sheet.belief.view.log_height, 1e-9);  // the sheet alone knows the scale
}

struct Scored {
  double rms = 0, beyond_three = 0, median_error = 0;
};

/// Error of the ratio of lengths at right angles over the stated one, over many poses and noisy lots.
Scored score(double error_px, bool focal_known, bool arrow, int lots) {
  std::mt19937 random(17);
  std::normal_distribution<double> normal(0, 1);
  double squares = 0, beyond = 0;
  std::vector<double> errors;
  for (int i = 0; i < lots; ++i) {
    const double tilt = std::clamp(42 + 15 * normal(random), 10.0, 68.0);
    const View truth =
        test::view_from(tilt, 2.5 * normal(random), 1500 / std::cos(tilt * std::numbers::pi / 180), kFocal);
    const GroundPoint m = looked_at(truth);
    const double angle = std::uniform_real_distribution<double>(0, std::numbers::pi)(random);
    const GroundPoint u{std::cos(angle), std::sin(angle)}, v{-u.y, u.x};
    const auto at = [&](double x, double y) { return m + u * x + v * y; };
    const std::vector<GroundRing> arrow_ring{
        {at(-1000, -75), at(300, -75), at(300, -280), at(1000, 0), at(300, 280), at(300, 75), at(-1000, 75)}};
    const auto edges = seen(truth, arrow ? arrow_ring : stalls(m, angle), error_px, random);
    const double focal = kFocal * std::exp((focal_known ? 0.02 : 0.12) * normal(random));
    const auto likely = likely_view(hand_held({focal, focal_known}), edges, {}, kPhoto);
    const Ground found = ground_of(likely.belief.view, kPhoto), ground = ground_of(truth, kPhoto);
    const GroundPoint along = m * (200 / length(m)), across{-along.y, along.x};
    const auto measured = [&](GroundPoint half) {
      return length(found.ground_from_image(ground.image_from_ground(m + half)) -
                    found.ground_from_image(ground.image_from_ground(m - half)));
    };
    const double error = std::log(measured(along) / measured(across));
    const double z = error / length_errors(likely.belief, kPhoto, {{2016, 1512}}).shape;
    squares += z * z;
    beyond += std::abs(z) > 3 ? 1 : 0;
    errors.push_back(std::abs(error));
  }
  std::nth_element(errors.begin(), errors.begin() + lots / 2, errors.end());
  return {std::sqrt(squares / lots), beyond / lots, errors[static_cast<std::size_t>(lots / 2)]};
}

TEST(LikelyView, StatesItsErrorHonestly) {
  for (const double error_px : {0.3, 1.5}) {
    for (const bool focal_known : {true, false}) {
      for (const bool arrow : {true, false}) {
        const Scored scored = score(error_px, focal_known, arrow, 50);
        EXPECT_GT(scored.rms, 0.15) << error_px << focal_known << arrow;
        EXPECT_LT(scored.rms, 1.4) << error_px << focal_known << arrow;
        EXPECT_LE(scored.beyond_three, 0.04) << error_px << focal_known << arrow;
      }
    }
  }
}

// Ratchet: median error of the ratio of lengths at right angles.
TEST(LikelyView, MedianErrorsStaySmall) {
  EXPECT_LT(score(0.3, true, false, 80).median_error, 0.02);
  EXPECT_LT(score(0.3, true, true, 80).median_error, 0.02);
}

}  // namespace
}  // namespace lotwear
