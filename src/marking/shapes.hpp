#pragma once
// Shapes of the trade as parametric outlines. Proportions are free within the trade's range, so home-made arrows fit
// too. Ranges, usual values and their sources: models/shapes.json.

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "base/geometry.hpp"
#include "base/kinds.hpp"

namespace lotwear {

/// One free proportion of a shape.
struct Proportion {
  std::string name;
  double low = 0, usual = 0, high = 0;
  bool of_length = true;  ///< true: a share of the shape's length; false: plain number (angle in degrees, count)
};

/// Outline maker of one kind. Unit frame: the shape's overall length is 1, it lies along y (points to -y, "up" as a
/// driver sees it), its middle at (0, 0); x to the right. `values` in the order of `proportions`.
struct Shape {
  std::string name;  ///< a kind may have several shapes (straight shaft, curved shaft)
  Kind kind = Kind::other;
  std::vector<Proportion> proportions;
  double usual_length_mm = 0, low_length_mm = 0, high_length_mm = 0;
  bool flipped = false;   ///< the drawing mirrored: a stencil laid face down
};

/// Reads models/shapes.json. Throws Failure when missing or malformed.
std::vector<Shape> load_shapes(const std::filesystem::path& models);

/// Names of a shape's proportions in the order in which `outline` takes their values. Throws Failure for an unknown
/// name.
std::vector<std::string> proportion_names(const std::string& shape_name);

/// Rings in the unit frame times `length_mm`: ground millimetres, one closed ring per separate piece. Where pieces meet
/// (a ladder's rungs, hatching in its border) they touch and never overlap, so areas add up; no ring has a hole. Bars
/// and triangles side by side (crosswalk, yield line) stand along x; the length is that of one bar or triangle. Values
/// at the rim of their ranges are eased where parts would run into each other (a barb into the shaft).
std::vector<GroundRing> outline(const Shape& shape, double length_mm, const std::vector<double>& values);
std::vector<double> usual_values(const Shape& shape);

}  // namespace lotwear
