#include "marking/field.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

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

const cv::Vec3b kBlue(40, 90, 190);

std::vector<GroundRing> symbol_rings(const std::string& name) {
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.name == name) return outline(shape, 800, usual_values(shape));
  }
  return {};
}

const Footprint* of_kind(const std::vector<Footprint>& found, Kind kind) {
  const auto at = std::find_if(found.begin(), found.end(), [kind](const Footprint& f) { return f.kind == kind; });
  return at == found.end() ? nullptr : &*at;
}

PaintedScene symbol_on_field() {
  PaintedScene scene;
  scene.height = Millimetres{1900};
  scene.things = {{{rectangle({0, 0}, 1200, 1200, 0)}, FinderKind::accessible_symbol, kBlue},
                  {symbol_rings("accessible-seated"), FinderKind::accessible_symbol}};
  return scene;
}

TEST(Field, ALineThatRunsIntoTheFieldIsAMarkingOfItsOwn) {
  PaintedScene scene = symbol_on_field();
  const GroundRing line = rectangle({-665, 0}, 2200, 120, 1.5708);
  scene.things.push_back({{line}, FinderKind::line});
  const auto found = found_in(paint_photo(scene));
  const Footprint* symbol = of_kind(found, Kind::accessible_symbol);
  const Footprint* stripe = of_kind(found, Kind::line);
  ASSERT_NE(symbol, nullptr);
  ASSERT_NE(stripe, nullptr);
  EXPECT_GT(overlap(symbol->rings, scene.things[1].rings), 0.9);
  EXPECT_GT(overlap(stripe->rings, {line}), 0.85);
}

TEST(Field, ASymbolIsFoundWhereABlueSkyLendsItsHueToTheWhiteToo) {
  PaintedScene scene = symbol_on_field();
  scene.things[0].colour = {91, 108, 149}, scene.things[1].colour = {157, 168, 195};
  const auto found = found_in(paint_photo(scene));
  const Footprint* symbol = of_kind(found, Kind::accessible_symbol);
  ASSERT_NE(symbol, nullptr);
  EXPECT_GT(overlap(symbol->rings, scene.things[1].rings), 0.9);
}

/// Everything right of ground x = `from` at a quarter of its light.
void shade(PaintedPhoto& painted, double from) {
  const auto darken = [&](cv::Mat& picture, double photo_per_pixel) {
    for (int r = 0; r < picture.rows; ++r) {
      for (int c = 0; c < picture.cols; ++c) {
        const GroundPoint g =
            painted.ground.ground_from_image({(c + 0.5) * photo_per_pixel, (r + 0.5) * photo_per_pixel});
        if (g.x + 0.4 * g.y > from) picture.at<cv::Vec3b>(r, c) *= 0.45;
      }
    }
  };
  darken(painted.photo.rgb, 1);
  darken(painted.map.picture, painted.map.photo_per_cell);
}

TEST(Field, ASymbolHalfInShadeIsFoundWhole) {
  const PaintedScene scene = symbol_on_field();
  PaintedPhoto painted = paint_photo(scene);
  shade(painted, 0);
  const auto found = found_in(std::move(painted));
  const Footprint* symbol = of_kind(found, Kind::accessible_symbol);
  ASSERT_NE(symbol, nullptr);
  EXPECT_GT(overlap(symbol->rings, scene.things[1].rings), 0.9);
}

TEST(Field, ASymbolHalfInShadeIsFoundAmongChips) {
  PaintedScene scene = symbol_on_field();
  for (int i = 0; i < 60; ++i)
    scene.gone.push_back(
        rectangle({-570.0 + 193 * (i % 7) + 17 * (i % 5), -560.0 + 131 * (i / 7) + 13 * (i % 3)}, 75, 60, 0.3 * i));
  PaintedPhoto painted = paint_photo(scene);
  // the finder fills chips in
  PaintedScene unchipped = scene;
  unchipped.gone.clear();
  painted.map.footprint = paint_photo(unchipped).map.footprint;
  painted.map.guess = painted.map.footprint.clone();
  shade(painted, 0);
  const auto found = found_in(std::move(painted));
  const Footprint* symbol = of_kind(found, Kind::accessible_symbol);
  ASSERT_NE(symbol, nullptr);
  EXPECT_GT(overlap(symbol->rings, scene.things[1].rings), 0.85);
}

}  // namespace
}  // namespace lotwear
