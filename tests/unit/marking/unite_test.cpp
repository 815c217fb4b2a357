#include "marking/unite.hpp"

#include <gtest/gtest.h>

#include "marking/marking.hpp"
#include "support/painted_photo.hpp"

namespace lotwear {
namespace {

using testing::found_in;
using testing::overlap;
using testing::paint_photo;
using testing::PaintedPhoto;
using testing::PaintedScene;
using testing::rectangle;

/// Nothing is left across the shaft, between the side arm and the head.
PaintedScene worn_arrow() {
  PaintedScene scene;
  scene.height = Millimetres{2400};
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.name == "arrow-straight-right-square")
      scene.things = {{outline(shape, 1800, usual_values(shape)), FinderKind::arrow}};
  }
  scene.gone = {rectangle({0, -330}, 1500, 160, 0)};
  return scene;
}

TEST(UnitePieces, HalvesThatPassForArrowsAreOneWhereTheGuessHoldsThemTogether) {
  const PaintedScene scene = worn_arrow();
  PaintedPhoto painted = paint_photo(scene);
  PaintedScene unworn = scene;
  unworn.gone.clear();
  painted.map.guess = paint_photo(unworn).map.guess;
  const auto found = found_in(std::move(painted));
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::arrow_straight_right);
  EXPECT_GT(overlap(found[0].rings, scene.things[0].rings), 0.9);
}

TEST(UnitePieces, TwoArrowsStayTwoHoweverTheGuessRunsThemTogether) {
  PaintedScene scene;
  scene.height = Millimetres{2400};
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.name != "arrow-straight") continue;
    for (const double x : {-350.0, 350.0}) {
      std::vector<GroundRing> arrow = outline(shape, 1500, usual_values(shape));
      for (GroundPoint& p : arrow.front())
        p = p + GroundPoint{x, 0};
      scene.things.push_back({arrow, FinderKind::arrow});
    }
  }
  PaintedPhoto painted = paint_photo(scene);
  PaintedScene smeared = scene;
  smeared.things.push_back({{rectangle({0, 0}, 800, 200, 0)}, FinderKind::arrow});
  painted.map.guess = paint_photo(smeared).map.guess;
  const auto found = found_in(std::move(painted));
  ASSERT_EQ(found.size(), 2U);
  for (const Footprint& f : found)
    EXPECT_EQ(f.kind, Kind::arrow_straight);
}

}  // namespace
}  // namespace lotwear
