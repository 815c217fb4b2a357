#include "marking/shapes.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "base/files.hpp"
#include "base/trouble.hpp"

namespace lotwear {
namespace {

constexpr double kInch = 25.4, kSquareFoot = 304.8 * 304.8;

const std::vector<Shape>& shapes() {
  static const std::vector<Shape> all = load_shapes(LOTWEAR_MODELS);
  return all;
}

const Shape& named(const std::string& name) {
  const auto found = std::find_if(shapes().begin(), shapes().end(), [&](const Shape& s) { return s.name == name; });
  if (found == shapes().end()) throw Failure("no shape " + name);
  return *found;
}

double total_area(const std::vector<GroundRing>& rings) {
  double sum = 0;
  for (const GroundRing& ring : rings)
    sum += area(ring);
  return sum;
}

struct Extent {
  double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
};
Extent extent(const std::vector<GroundRing>& rings) {
  Extent e;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) {
      e.left = std::min(e.left, p.x), e.right = std::max(e.right, p.x);
      e.top = std::min(e.top, p.y), e.bottom = std::max(e.bottom, p.y);
    }
  }
  return e;
}

/// Cells whose centre lies in any of the rings (even-odd within a ring), times the cell's area: sees what the shoelace
/// rule does not, overlapping pieces and rings that cross themselves. Turned a little first, or edges along the grid
/// would all be counted to the same side.
double counted_area(std::vector<GroundRing> rings, double cell) {
  for (GroundRing& ring : rings) {
    for (GroundPoint& p : ring)
      p = {std::cos(0.7) * p.x - std::sin(0.7) * p.y, std::sin(0.7) * p.x + std::cos(0.7) * p.y};
  }
  const Extent e = extent(rings);
  const int cols = static_cast<int>((e.right - e.left) / cell) + 2,
            rows = static_cast<int>((e.bottom - e.top) / cell) + 2;
  double cells = 0;
  std::vector<char> row(static_cast<std::size_t>(cols));
  for (int r = 0; r < rows; ++r) {
    std::fill(row.begin(), row.end(), 0);
    const double y = e.top + (r + 0.5) * cell;
    for (const GroundRing& ring : rings) {
      std::vector<double> cuts;
      for (std::size_t i = 0; i < ring.size(); ++i) {
        const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
        if ((a.y <= y) != (b.y <= y)) cuts.push_back(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
      }
      std::sort(cuts.begin(), cuts.end());
      for (std::size_t i = 0; i + 1 < cuts.size(); i += 2) {
        for (int c = 0; c < cols; ++c) {
          const double x = e.left + (c + 0.5) * cell;
          if (x >= cuts[i] && x < cuts[i + 1]) row[static_cast<std::size_t>(c)] = 1;
        }
      }
    }
    cells += static_cast<double>(std::count(row.begin(), row.end(), 1));
  }
  return cells * cell * cell;
}

std::vector<double> drawn(const Shape& shape, std::mt19937& random) {
  std::vector<double> values;
  for (const Proportion& p : shape.proportions)
    values.push_back(std::uniform_real_distribution<>(p.low, p.high)(random));
  return values;
}

TEST(Shapes, EveryKindOfTheTradeHasAtLeastOne) {
  for (const Kind kind :
       {Kind::line, Kind::stop_line, Kind::crosswalk, Kind::arrow_straight, Kind::arrow_left, Kind::arrow_right,
        Kind::arrow_straight_left, Kind::arrow_straight_right, Kind::arrow_left_right, Kind::accessible_symbol,
        Kind::hatching, Kind::yield_line, Kind::curb}) {
    EXPECT_TRUE(std::any_of(shapes().begin(), shapes().end(), [&](const Shape& s) { return s.kind == kind; }))
        << word(kind);
  }
}

TEST(Shapes, AStallLineHasItsArea) {
  // 4 in x 18 ft is 6.00 sq ft: arithmetic
  const auto rings = outline(named("line"), 18 * 12 * kInch, {4.0 / 216});
  EXPECT_NEAR(total_area(rings) / kSquareFoot, 6.0, 1e-9);
}

TEST(Shapes, TheSymbolHasThePublishedPaintedArea) {
  // 41 x 36 in with a 4 in stroke: 2.7 sq ft, Ohio DOT plan note 342-2, Table 397-2
  for (const char* name : {"accessible-seated", "accessible-leaning"}) {
    const auto rings = outline(named(name), 41 * kInch, {36.0 / 41, 4.0 / 41, usual_values(named(name))[2]});
    EXPECT_NEAR(total_area(rings) / kSquareFoot, 2.7, 0.27) << name;
    EXPECT_NEAR((extent(rings).right - extent(rings).left) / kInch, 36, 0.01) << name;
  }
}

TEST(Shapes, YieldTrianglesAreHalfTheirBoxes) {
  const auto rings = outline(named("yield-line"), 600, {0.667, 0.25, 4});
  EXPECT_EQ(rings.size(), 4u);
  EXPECT_NEAR(total_area(rings), 4 * 600 * 600 * 0.667 / 2, 1e-6);
  EXPECT_DOUBLE_EQ(rings[0][0].y, -300) << "they point to -y";
}

TEST(Shapes, LeftAndRightAreMirrorImages) {
  for (const std::string pair :
       {"arrow-%-square", "arrow-%-curved", "arrow-straight-%-square", "arrow-straight-%-curved"}) {
    std::string left = pair, right = pair;
    left.replace(left.find('%'), 1, "left");
    right.replace(right.find('%'), 1, "right");
    const auto a = outline(named(left), 1000, usual_values(named(left)));
    const auto b = outline(named(right), 1000, usual_values(named(right)));
    for (std::size_t i = 0; i < a[0].size(); ++i)
      EXPECT_EQ(a[0][i].x, -b[0][i].x) << left;
  }
}

TEST(Shapes, ALeftArrowHasItsTipOnTheLeft) {
  for (const char* name : {"arrow-left-square", "arrow-left-curved"}) {
    const auto ring = outline(named(name), 1000, usual_values(named(name)))[0];
    const Extent e = extent({ring});
    const auto foot = std::max_element(ring.begin(), ring.end(), [](auto a, auto b) { return a.y < b.y; });
    EXPECT_GT(foot->x, 0.5 * (e.left + e.right)) << name;
  }
}

TEST(Shapes, AreAsLongAsAskedCentredAndNeverOverlapWhateverTheProportions) {
  std::mt19937 random(20);
  for (const Shape& shape : shapes()) {
    for (int round = 0; round < 30; ++round) {
      const std::vector<double> values = round == 0 ? usual_values(shape) : drawn(shape, random);
      const auto rings = outline(shape, 1000, values);
      const Extent e = extent(rings);
      EXPECT_NEAR(e.bottom - e.top, 1000, 1e-6) << shape.name;
      EXPECT_NEAR(e.bottom + e.top, 0, 1e-6) << shape.name;
      EXPECT_NEAR(e.left + e.right, 0, 1e-6) << shape.name;
      const double whole = total_area(rings);
      double edges = 0;
      for (const GroundRing& ring : rings)
        edges += perimeter(ring);
      const double cell = 4;
      EXPECT_NEAR(counted_area(rings, cell), whole, 0.025 * cell * edges + 0.002 * whole)
          << shape.name << " " << testing::PrintToString(values);
    }
  }
}

TEST(Shapes, ScaleWithTheirLength) {
  for (const Shape& shape : shapes()) {
    const double one = total_area(outline(shape, 1000, usual_values(shape)));
    EXPECT_NEAR(total_area(outline(shape, 2000, usual_values(shape))), 4 * one, 1e-6 * one) << shape.name;
  }
}

TEST(Shapes, AMalformedFileSaysWhichOne) {
  const auto folder = std::filesystem::temp_directory_path() / "lotwear-shapes-test";
  std::filesystem::create_directories(folder);
  write_file(folder / "shapes.json", R"({"shapes": [{"name": "bird", "kind": "line"}]})");
  try {
    load_shapes(folder);
    FAIL();
  } catch (const Failure& e) {
    EXPECT_THAT(e.what(), testing::HasSubstr("shapes.json"));
  }
  std::filesystem::remove_all(folder);
  EXPECT_THROW(load_shapes(folder), Failure);
}

}  // namespace
}  // namespace lotwear
