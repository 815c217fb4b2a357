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

/// A letter's strokes by their middle lines, on a grid 4 wide and 6 high, y down.
struct LetterStroke {
  enum class End { free, meets, side };  ///< meets another end; abuts the side of another stroke
  std::vector<GroundPoint> path;
  End start = End::free, end = End::free;
};
using Letter = std::vector<LetterStroke>;

/// Outline maker of one kind. Unit frame: the shape's overall length is 1, it lies along y (points to -y, "up" as a
/// driver sees it), its middle at (0, 0); x to the right. `values` in the order of `proportions`.
struct Shape {
  std::string name;  ///< a kind may have several shapes (straight shaft, curved shaft)
  Kind kind = Kind::other;
  std::vector<Proportion> proportions;
  double usual_length_mm = 0, low_length_mm = 0, high_length_mm = 0;
  bool flipped = false;   ///< the drawing mirrored: a stencil laid face down
  std::string text;              ///< of a word; its length is a letter's height
  std::vector<Letter> letters;   ///< of `text`, one each
};

/// Reads models/shapes.json. Throws Failure when missing or malformed.
std::vector<Shape> load_shapes(const std::filesystem::path& models);

/// Reads models/words.json: a shape a word, of kind legend. Throws Failure when missing or malformed.
std::vector<Shape> load_words(const std::filesystem::path& models);
/// All of them, shapes first: what find_markings looks for.
std::vector<Shape> shapes_and_words(const std::filesystem::path& models);
/// A word as a shape with its proportions at their usual values.
Shape word_shape(const std::string& text, const std::vector<Letter>& letters);
/// How a word's letters are set, in shares of their height.
struct WordSetting {
  struct Place {
    double left = 0, width = 0;
  };
  double letter_width = 0, gap = 0, stroke = 0;  ///< of the usual letter, between two, of every stroke
  std::vector<Place> letters;                    ///< each of its own; empty: all as usual
};
/// Values of a word's proportions for a setting, the others usual.
std::vector<double> word_values(const Shape& word, const WordSetting& setting);
/// A word's strokes as drawn: letters are 1 high, the first one's box begins at (0, 0).
std::vector<GroundRing> strokes_of(const Shape& word, const std::vector<double>& values);

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
