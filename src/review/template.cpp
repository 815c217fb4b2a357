#include "review/template.hpp"

#include <algorithm>
#include <cmath>

#include "marking/marking.hpp"

namespace lotwear {

namespace {

constexpr double kShortestMm = 50;  // nothing painted is shorter

bool is_bar(Kind kind) { return kind == Kind::line || kind == Kind::stop_line || kind == Kind::curb; }
bool stands_across(Kind kind) { return kind == Kind::crosswalk || kind == Kind::yield_line; }

double& value_named(const Shape& shape, std::vector<double>& values, std::string_view name) {
  const auto at = std::find_if(shape.proportions.begin(), shape.proportions.end(),
                               [&](const Proportion& p) { return p.name == name; });
  require(at != shape.proportions.end(), "a shape of bars has their proportions");
  return values[static_cast<std::size_t>(at - shape.proportions.begin())];
}

/// As many bars or triangles as fit between the middles of the first and the last, their gaps made to come out even.
void fill_span(const Shape& shape, std::vector<double>& values, double span) {
  const bool lines = shape.name == "crosswalk-lines";
  if (lines) {
    value_named(shape, values, "span") = span;
    return;
  }
  double& bar = value_named(shape, values, shape.kind == Kind::yield_line ? "base" : "bar-width");
  double& gap = value_named(shape, values, "gap");
  const double count = std::max(2.0, std::round(span / (bar + gap)) + 1);
  value_named(shape, values, "count") = count;
  bar = std::min(bar, 0.7 * span / (count - 1));  // two clicks close together are two narrow bars
  gap = span / (count - 1) - bar;
}

}  // namespace

std::string two_clicks(Kind kind) {
  if (is_bar(kind)) return "click one end, then the other";
  if (stands_across(kind)) return "click the middle of the first bar, then the middle of the last";
  return "click the foot, then the tip";
}

Result<std::vector<ImageRing>> lay_template(const Shape& shape, const Ground& ground, ImagePoint from, ImagePoint to) {
  if (!(ground.ground_from_image.depth(from) > 0 && ground.ground_from_image.depth(to) > 0))
    return Problem{"template", "a point lies above the horizon, where there is no pavement"};
  const GroundPoint start = ground.ground_from_image(from), end = ground.ground_from_image(to);
  const double span = length(end - start);
  if (span < kShortestMm) return Problem{"template", "the two points lie at one place; click the two ends"};
  std::vector<double> values = usual_values(shape);
  double long_mm = span;
  if (is_bar(shape.kind)) {
    double& width = value_named(shape, values, "width");
    width = width * shape.usual_length_mm / span;
  } else if (stands_across(shape.kind)) {
    long_mm = shape.usual_length_mm;
    fill_span(shape, values, span / long_mm);
  }
  const GroundPoint ahead = (end - start) * (1 / span);
  // the drawing points to -y; what stands across runs along its x
  const GroundPoint right = stands_across(shape.kind) ? ahead : GroundPoint{-ahead.y, ahead.x};
  const GroundPoint down = stands_across(shape.kind) ? GroundPoint{-ahead.y, ahead.x} : ahead * -1;
  const GroundPoint middle = (start + end) * 0.5;
  std::vector<GroundRing> rings = outline(shape, long_mm, values);
  for (GroundRing& ring : rings) {
    for (GroundPoint& p : ring)
      p = middle + right * p.x + down * p.y;
  }
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) {
      if (!(ground.image_from_ground.depth(p) > 0)) return Problem{"template", "it would reach behind the camera"};
    }
  }
  return in_photo(ground, rings);
}

}  // namespace lotwear
