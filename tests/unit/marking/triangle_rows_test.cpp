// A yield line's row tells what its triangles do not show themselves.
#include <gtest/gtest.h>

#include <algorithm>

#include "marking/marking.hpp"
#include "support/painted_photo.hpp"

namespace lotwear {
namespace {

using testing::found_in;
using testing::PaintedScene;

constexpr double kBase = 400, kHigh = 600, kPitch = 560;

GroundRing triangle(double x) { return {{x - kBase / 2, -kHigh / 2}, {x + kBase / 2, -kHigh / 2}, {x, kHigh / 2}}; }

/// Triangles at these places; the picture shows about 2.2 m to either side.
PaintedScene row_at(std::initializer_list<double> places) {
  PaintedScene scene;
  for (const double x : places)
    scene.things.push_back({{triangle(x)}, FinderKind::yield_line});
  return scene;
}

const Footprint* yield_line_of(const std::vector<Footprint>& found) {
  for (const Footprint& f : found) {
    if (f.kind == Kind::yield_line) return &f;
  }
  return nullptr;
}

double right_end(const Footprint& footprint) {
  double right = -1e9;
  for (const GroundRing& ring : footprint.rings) {
    for (const GroundPoint& p : ring)
      right = std::max(right, p.x);
  }
  return right;
}

/// How far the picture shows the ground at the row's middle.
double edge_of_picture(const PaintedScene& scene) {
  const auto painted = testing::paint_photo(scene);
  const ImagePoint middle = painted.ground.image_from_ground({0.0, 0.0});
  return painted.ground.ground_from_image({static_cast<double>(scene.size.width), middle.y}).x;
}

TEST(TriangleRows, OneCutByThePhotosEdgeBelongsToItsRow) {
  const double edge = edge_of_picture(row_at({0}));
  // the last one's middle lies on the edge: half of it is seen, a shape that an arrow's head fits as well
  const PaintedScene scene = row_at({edge - 3 * kPitch, edge - 2 * kPitch, edge - kPitch, edge});
  const auto found = found_in(scene);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::yield_line);
  ASSERT_EQ(found[0].rings.size(), 4U);
  EXPECT_TRUE(found[0].cut_off);
  EXPECT_GT(right_end(found[0]), edge - 40);
}

TEST(TriangleRows, OneHalfWornAwayIsAsLargeAsItsNeighbours) {
  PaintedScene scene = row_at({-2 * kPitch, -kPitch, 0, kPitch, 2 * kPitch});
  scene.gone = {testing::rectangle({kPitch + 150, -120}, 260, 420, 0)};
  const auto found = found_in(scene);
  const Footprint* line = yield_line_of(found);
  ASSERT_NE(line, nullptr);
  ASSERT_EQ(line->rings.size(), 5U);
  for (const GroundRing& ring : line->rings)
    EXPECT_NEAR(area(ring), kBase * kHigh / 2, 0.15 * kBase * kHigh / 2);
}

TEST(TriangleRows, AnArrowBesideTheRowStaysOne) {
  PaintedScene scene = row_at({-2 * kPitch, -kPitch, 0});
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.name != "arrow-straight") continue;
    std::vector<GroundRing> arrow = outline(shape, 1100, usual_values(shape));
    for (GroundPoint& p : arrow.front())
      p = p + GroundPoint{1.4 * kPitch, 0};
    scene.things.push_back({arrow, FinderKind::arrow});
  }
  const auto found = found_in(scene);
  const Footprint* line = yield_line_of(found);
  ASSERT_NE(line, nullptr);
  EXPECT_EQ(line->rings.size(), 3U);
  EXPECT_TRUE(
      std::any_of(found.begin(), found.end(), [](const Footprint& f) { return f.kind == Kind::arrow_straight; }));
}

}  // namespace
}  // namespace lotwear
