// Edges of a known ground laid back on it: true poses make them parallel, and drawings fit.
#include "ground/laid_edges.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "ground/laid_object.hpp"
#include "support/ground_scene.hpp"

namespace lotwear {
namespace {

const cv::Size kPhoto(4032, 3024);
constexpr double kFocal = 2950, kDegree = std::numbers::pi / 180;

View looking_down_at(double tilt) { return test::view_from(tilt, 1.5, 1500 / std::cos(tilt * kDegree), kFocal); }
Pose pose_of(const View& view) { return {view.pitch, view.lean, view.log_focal}; }

/// An edge of 600 mm about `off` from the middle of the picture, in the ground's direction `angle`.
EdgeLine edge(const View& view, GroundPoint off, double angle) {
  const Ground ground = ground_of(view, kPhoto);
  const GroundPoint middle = ground.ground_from_image({kPhoto.width / 2.0, kPhoto.height / 2.0}) + off,
                    half = GroundPoint{std::cos(angle), std::sin(angle)} * 300;
  EdgeLine line;
  line.from = ground.image_from_ground(middle - half), line.to = ground.image_from_ground(middle + half);
  line.offset_error = 0.1, line.angle_error = 1e-4;
  return line;
}

std::vector<Laid> laid(const std::vector<EdgeLine>& edges, const Pose& pose) {
  const PoseGround ground(pose);
  std::vector<Laid> all;
  for (const EdgeLine& e : edges)
    all.push_back(ground.laid(seen_edge(e, kPhoto), 0));
  return all;
}

TEST(LaidEdges, AnglesBetweenLinesAreWithinAQuarterTurn) {
  EXPECT_NEAR(line_angle(0.3), 0.3, 1e-12);
  EXPECT_NEAR(line_angle(0.3 + std::numbers::pi), 0.3, 1e-12);
  EXPECT_NEAR(line_angle(2.0), 2.0 - std::numbers::pi, 1e-12);
}

TEST(LaidEdges, TheTruePoseGivesBackAnglesOnTheGround) {
  for (const double tilt : {10.0, 40.0, 60.0}) {
    const View view = looking_down_at(tilt);
    const std::vector<Laid> all =
        laid({edge(view, {}, 0.4), edge(view, {500, 200}, 0.4), edge(view, {-300, 100}, 1.0)}, pose_of(view));
    EXPECT_NEAR(line_angle(all[1].direction - all[0].direction), 0, 1e-6) << tilt;
    EXPECT_NEAR(line_angle(all[2].direction - all[0].direction), 0.6, 1e-6) << tilt;
  }
}

TEST(LaidEdges, ParallelsAgreeBestAtTheTrueTilt) {
  const View view = looking_down_at(40);
  std::vector<EdgeLine> edges;
  for (const double off : {-400.0, 0.0, 400.0})
    edges.push_back(edge(view, {off, off / 3}, 0.7));
  const Pose truth = pose_of(view);
  const double agreement = log_agreement(laid(edges, truth), 0);
  for (const double by : {-6 * kDegree, 6 * kDegree})
    EXPECT_LT(log_agreement(laid(edges, truth + Pose(by, 0, 0)), 0), agreement) << by;
  EXPECT_EQ(log_agreement(laid({edges.front()}, truth), 0), 0);
}

/// A square's four edges as its drawing has them; the last one wrong by `wrong` radians.
DrawnObject square(const View& view, double wrong) {
  DrawnObject object;
  for (int k = 0; k < 4; ++k) {
    const double drawn = k * std::numbers::pi / 2, turned = drawn + 0.3;
    DrawnEdge side;
    side.seen = edge(view, GroundPoint{-std::sin(turned), std::cos(turned)} * 300, turned + (k == 3 ? wrong : 0));
    side.drawn = drawn, side.tolerance = 0.2 * kDegree;
    object.push_back(side);
  }
  return object;
}

TEST(LaidObject, OneStrayEdgeIsOutvoted) {
  const View view = looking_down_at(35);
  const PoseGround ground(pose_of(view));
  const LaidObject clean = laid_object(object_edges(square(view, 0), kPhoto), ground, 0),
                   stray = laid_object(object_edges(square(view, 20 * kDegree), kPhoto), ground, 0);
  EXPECT_NEAR(line_angle(clean.whole.direction - stray.whole.direction), 0, 0.05 * kDegree);
  EXPECT_LT(stray.log_likelihood, clean.log_likelihood);
}

}  // namespace
}  // namespace lotwear
