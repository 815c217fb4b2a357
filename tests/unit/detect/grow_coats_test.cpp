// Pieces of the map grown over the rest of their own coat, on painted pictures of which a part is taken out of the map.
#include "detect/grow_coats.hpp"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "support/painted_photo.hpp"

namespace lotwear {
namespace {

using testing::paint_photo;
using testing::PaintedPhoto;
using testing::PaintedScene;
using testing::rectangle;

/// The map's cells right of `from` (of its width) taken for a thing.
void take_for_thing(PaintMap& map, double from) {
  const cv::Rect there(static_cast<int>(from * map.footprint.cols), 0,
                       map.footprint.cols - static_cast<int>(from * map.footprint.cols), map.footprint.rows);
  cv::Mat thing = map.not_ground(there);
  thing = cv::max(thing, map.footprint(there));
  for (cv::Mat* layer : {&map.top_coat, &map.footprint, &map.guess})
    (*layer)(there).setTo(0);
}

PaintedScene with_bar() {
  PaintedScene scene;
  scene.things = {{{rectangle({0, 0}, 1100, 300, 0)}, FinderKind::stop_line}};
  return scene;
}

double differing(const cv::Mat& a, const cv::Mat& b) {
  return cv::countNonZero(cv::abs(a - b) > 0.3) / static_cast<double>(cv::countNonZero(b > 0.5));
}

TEST(GrowCoats, TheRestOfABarThatTheFinderTakesForAThing) {
  const PaintMap whole = paint_photo(with_bar()).map;
  PaintMap map = paint_photo(with_bar()).map;
  take_for_thing(map, 0.52);
  ASSERT_GT(differing(map.footprint, whole.footprint), 0.4);
  grow_coats(map);
  EXPECT_LT(differing(map.footprint, whole.footprint), 0.08);  // all but the blurred rim of what was missing
  EXPECT_LT(cv::mean(map.not_ground)[0], 0.01);
}

TEST(GrowCoats, NothingIsAddedToAPieceThatIsWhole) {
  PaintMap map = paint_photo(with_bar()).map;
  const cv::Mat before = map.footprint.clone();
  grow_coats(map);
  EXPECT_EQ(cv::norm(map.footprint, before), 0);
}

TEST(GrowCoats, APieceThatRunsIntoALargePaleSlabStaysAsItIs) {
  PaintedScene scene = with_bar();
  scene.things.push_back({{rectangle({1400, 0}, 1800, 1500, 0)}, FinderKind::none});
  PaintMap map = paint_photo(scene).map;
  take_for_thing(map, 0.6);
  const cv::Mat before = map.footprint.clone();
  grow_coats(map);
  EXPECT_EQ(cv::norm(map.footprint, before), 0);
}

TEST(GrowCoats, WhatTheFinderIsSureToBePavementStaysPavement) {
  PaintMap map = paint_photo(with_bar()).map;
  take_for_thing(map, 0.52);
  map.pavement += map.not_ground;
  map.not_ground.setTo(0);
  const cv::Mat before = map.footprint.clone();
  grow_coats(map);
  EXPECT_EQ(cv::norm(map.footprint, before), 0);
}

}  // namespace
}  // namespace lotwear
