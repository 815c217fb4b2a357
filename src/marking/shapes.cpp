#include "marking/shapes.hpp"

#include <algorithm>
#include <array>
#include <string_view>

#include "base/trouble.hpp"
#include "marking/shapes_parts.hpp"

namespace lotwear {

namespace {

using namespace shape_parts;

struct Maker {
  std::string_view name;
  std::vector<std::string_view> proportions;
  Rings (*make)(Values);
  bool mirror = false;
};

const std::vector<std::string_view> kStraight = {"shaft-width", "head-length", "head-width", "notch"};
const std::vector<std::string_view> kSquareTurn = {"shaft-width", "arm-width",  "arm-length",
                                                   "head-length", "head-width", "notch"};
const std::vector<std::string_view> kCurvedTurn = {"shaft-width", "elbow-radius", "turn-degrees", "arm-length",
                                                   "head-length", "head-width",   "notch"};
const std::vector<std::string_view> kSquareBoth = {"shaft-width", "head-length",     "head-width",
                                                   "notch",       "arm-leaves",      "arm-width",
                                                   "arm-length",  "arm-head-length", "arm-head-width"};
const std::vector<std::string_view> kCurvedBoth = {"shaft-width",     "head-length",   "head-width",   "notch",
                                                   "arm-leaves",      "elbow-radius",  "turn-degrees", "arm-length",
                                                   "arm-head-length", "arm-head-width"};
const std::vector<std::string_view> kSymbol = {"width", "stroke", "head-diameter"};

const std::vector<Maker>& makers() {
  static const std::vector<Maker> all = {
      {"line", {"width"}, single_bar},
      {"stop-line", {"width"}, single_bar},
      {"curb", {"width"}, single_bar},
      {"crosswalk-bars", {"bar-width", "gap", "count"}, crosswalk_bars},
      {"crosswalk-ladder", {"line-width", "bar-width", "gap", "count"}, crosswalk_ladder},
      {"crosswalk-lines", {"line-width", "span"}, crosswalk_lines},
      {"arrow-straight", kStraight, straight_arrow},
      {"arrow-left-square", kSquareTurn, square_turn},
      {"arrow-right-square", kSquareTurn, square_turn, true},
      {"arrow-left-curved", kCurvedTurn, curved_turn},
      {"arrow-right-curved", kCurvedTurn, curved_turn, true},
      {"arrow-straight-left-square", kSquareBoth, square_straight_turn},
      {"arrow-straight-right-square", kSquareBoth, square_straight_turn, true},
      {"arrow-straight-left-curved", kCurvedBoth, curved_straight_turn},
      {"arrow-straight-right-curved", kCurvedBoth, curved_straight_turn, true},
      {"arrow-left-right-square", kSquareTurn, square_two_turns},
      {"arrow-left-right-curved", kCurvedTurn, curved_two_turns},
      {"accessible-seated", kSymbol, seated_symbol},
      {"accessible-leaning", kSymbol, leaning_symbol},
      {"hatching", {"width", "border", "bar-width", "spacing", "angle-degrees"}, hatching},
      {"yield-line", {"base", "gap", "count"}, yield_triangles},
  };
  return all;
}

const Maker& maker_of(const std::string& name) {
  const auto found = std::find_if(makers().begin(), makers().end(), [&](const Maker& m) { return m.name == name; });
  if (found == makers().end())
    throw Failure("models/shapes.json: there is no outline called '" + name + "'; correct the name");
  return *found;
}

}  // namespace

std::vector<std::string> proportion_names(const std::string& shape_name) {
  const Maker& maker = maker_of(shape_name);
  return {maker.proportions.begin(), maker.proportions.end()};
}

std::vector<GroundRing> outline(const Shape& shape, double length_mm, const std::vector<double>& values) {
  const bool spelled = !shape.text.empty();
  const Maker* maker = spelled ? nullptr : &maker_of(shape.name);
  require(values.size() == (spelled ? shape.proportions.size() : maker->proportions.size()),
          "a shape gets one value for each of its proportions");
  Rings rings = spelled ? word(shape.letters, values) : maker->make(values);
  require(!rings.empty() && !rings.front().empty(), "a shape has at least one piece");
  GroundPoint low = rings.front().front(), high = low;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
  }
  const GroundPoint middle = (low + high) * 0.5;
  for (GroundRing& ring : rings) {
    for (GroundPoint& p : ring)
      p = (p - middle) * length_mm;
    if ((!spelled && maker->mirror) != shape.flipped) ring = mirrored(ring);
  }
  return rings;
}

std::vector<double> usual_values(const Shape& shape) {
  std::vector<double> values;
  for (const Proportion& p : shape.proportions)
    values.push_back(p.usual);
  return values;
}

}  // namespace lotwear
