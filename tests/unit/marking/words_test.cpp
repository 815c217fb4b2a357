#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

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

/// A C or, turned, its mirror: 900 mm high.
GroundRing bow(GroundPoint middle, double from, double stroke) {
  GroundRing outer, inner;
  for (int i = 0; i <= 24; ++i) {
    const double angle = from + 0.7 + i / 24.0 * (2 * std::numbers::pi - 1.4);
    const GroundPoint out{std::cos(angle), std::sin(angle)};
    outer.push_back(middle + GroundPoint{out.x * 260, out.y * 450});
    inner.push_back(middle + GroundPoint{out.x * (260 - stroke), out.y * (450 - stroke)});
  }
  outer.insert(outer.end(), inner.rbegin(), inner.rend());
  return outer;
}

/// An E, 900 mm high along its strokes' middles.
GroundRing letter_e(GroundPoint middle, double stroke) {
  const double w = stroke / 2, x = 200, y = 400;
  GroundRing ring = {{-x - w, -y - w}, {x, -y - w}, {x, -y + w},     {-x + w, -y + w}, {-x + w, -w}, {x, -w},
                     {x, w},           {-x + w, w}, {-x + w, y - w}, {x, y - w},       {x, y + w},   {-x - w, y + w}};
  for (GroundPoint& p : ring)
    p = p + middle;
  return ring;
}

TEST(Words, BentStrokesThatTheFinderCallsHatchingAreLetters) {
  PaintedScene scene;
  scene.height = Millimetres{2400};
  std::vector<GroundRing> word;
  word.push_back(bow({-750, 0}, 0, 120));
  word.push_back(bow({-50, 0}, 0.4, 120));
  word.push_back(rectangle({430, 0}, 900, 120, 1.5708));
  for (const GroundRing& letter : word)
    scene.things.push_back({{letter}, FinderKind::hatching});
  const auto found = found_in(paint_photo(scene));
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::legend);
  EXPECT_GT(overlap(found[0].rings, word), 0.9);
}

TEST(Words, AnArrowBelowThemIsNone) {
  PaintedScene scene;
  scene.height = Millimetres{3000};
  for (const GroundRing& letter : {bow({-350, -400}, 0, 120), bow({350, -400}, 0.4, 120)})
    scene.things.push_back({{letter}, FinderKind::hatching});
  for (const Shape& shape : load_shapes(LOTWEAR_MODELS)) {
    if (shape.name != "arrow-straight") continue;
    std::vector<GroundRing> arrow = outline(shape, 900, usual_values(shape));
    for (GroundPoint& p : arrow.front())
      p = p + GroundPoint{0, 700};
    scene.things.push_back({arrow, FinderKind::hatching});
  }
  const auto found = found_in(paint_photo(scene));
  ASSERT_EQ(found.size(), 2U);
  EXPECT_NE(found[0].kind == Kind::legend, found[1].kind == Kind::legend);
  EXPECT_NE(found[0].kind == Kind::arrow_straight, found[1].kind == Kind::arrow_straight);
}

/// The finder takes whole letters for lost paint, and calls them something else.
PaintedPhoto smeared(const PaintedScene& scene, const std::vector<GroundRing>& boxes, double coat_left) {
  PaintedPhoto painted = paint_photo(scene);
  painted.map.top_coat *= coat_left;
  PaintedScene whole = scene;
  whole.things.clear();
  for (const GroundRing& box : boxes)
    whole.things.push_back({{box}, FinderKind::stop_line});
  const PaintedPhoto filled = paint_photo(whole);
  painted.map.guess = filled.map.guess;
  painted.map.footprint = cv::max(painted.map.footprint, 0.75 * filled.map.footprint);
  painted.map.kinds = filled.map.kinds;
  painted.map.lost_abraded = cv::max(painted.map.footprint - painted.map.top_coat, 0.0);
  return painted;
}

TEST(Words, AWordWornFromEndToEndIsOneLegendInDoubt) {
  PaintedScene scene;
  scene.height = Millimetres{2600};
  std::vector<GroundRing> word, around;
  for (const double x : {-1050.0, -350.0, 350.0, 1050.0}) {
    word.push_back(letter_e({x, 0}, 90));
    around.push_back(letter_e({x, 0}, 210));
    scene.things.push_back({{word.back()}, FinderKind::stop_line});
  }
  const auto found = found_in(smeared(scene, around, 0.45));
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, Kind::legend);
  EXPECT_FALSE(found[0].doubts.empty());
  EXPECT_GT(found[0].edge_error.value, 10);
}

/// PARKING in letters 500 mm high; `set` may move and widen them.
std::vector<GroundRing> parking(const WordSetting& set) {
  for (const Shape& word : load_words(LOTWEAR_MODELS)) {
    if (word.text != "PARKING") continue;
    std::vector<GroundRing> strokes = strokes_of(word, word_values(word, set));
    for (GroundRing& ring : strokes) {
      for (GroundPoint& p : ring)
        p = p * 500.0 + GroundPoint{-1100, -250};
    }
    return strokes;
  }
  return {};
}

TEST(Words, ALetterThatIsGoneStaysPartOfItsWord) {
  const std::vector<GroundRing> word = parking({0.5, 0.15, 0.11, {}});
  PaintedScene scene;
  scene.height = Millimetres{2600};
  scene.things.push_back({word, FinderKind::legend});
  const auto whole = found_in(paint_photo(scene));
  ASSERT_EQ(whole.size(), 1U);
  EXPECT_EQ(whole[0].text, "PARKING");
  EXPECT_GT(overlap(whole[0].rings, word), 0.9);

  scene.gone = {rectangle({-1100 + 500 * (0.65 * 3 + 0.25), 0}, 320, 700, 0)};  // the K
  const auto worn = found_in(paint_photo(scene));
  ASSERT_EQ(worn.size(), 1U);
  EXPECT_EQ(worn[0].text, "PARKING");
  EXPECT_EQ(worn[0].kind, Kind::legend);
  EXPECT_GT(overlap(worn[0].rings, word), 0.85);
  double k = 0, found = 0;
  for (const GroundRing& ring : worn[0].rings) {
    const GroundPoint at = centroid(ring);
    if (std::abs(at.x - (-1100 + 500 * 2.2)) < 150) found += area(ring);
  }
  for (const GroundRing& ring : word) {
    if (std::abs(centroid(ring).x - (-1100 + 500 * 2.2)) < 150) k += area(ring);
  }
  EXPECT_NEAR(found / k, 1, 0.15);
}

TEST(Words, LettersThatSpellNothingKeepTheirOutlines) {
  PaintedScene scene;
  scene.height = Millimetres{2600};
  std::vector<GroundRing> word;
  for (const double x : {-1050.0, -350.0, 350.0, 1050.0})
    word.push_back(letter_e({x, 0}, 110));
  for (const GroundRing& letter : word)
    scene.things.push_back({{letter}, FinderKind::legend});
  const auto found = found_in(paint_photo(scene));
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].text, "");
  EXPECT_GT(overlap(found[0].rings, word), 0.9);
}

}  // namespace
}  // namespace lotwear
