#pragma once
// A small drawing as a list of what stands in it, built once and laid out twice: as inline SVG for the page, by Cairo
// for the PDF. Colours are roles, so that the page's follow light and dark.

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include "measure/measure.hpp"
#include "views/palette.hpp"

namespace lotwear {

/// Roles of `PageInks`.
enum class Tone : std::uint8_t { card, tint, edge, ink, quiet, link, leave, repaint, grind };
Ink ink_of(Tone tone, const PageInks& page);
Tone tone_of(Action action);

/// Nothing, a role, or a cause with its pattern.
using Fill = std::variant<std::monostate, Tone, Spot>;

struct Drawn {
  enum class Is : std::uint8_t { rect, line, polygon, circle, half_disc, text } is = Is::rect;
  /// rect: x y width height; line: x1 y1 x2 y2; polygon: x y x y ...; circle, half disc (its right half): x y radius;
  /// text: x and y of its foot, in the middle
  std::vector<double> at;
  Fill fill{};
  Fill stroke{};
  double stroke_width = 1, corner = 0, opacity = 1;
  bool dashed = false, bold = false;
  enum class Align : std::uint8_t { middle, left, right } align = Align::middle;
  double size = 10;  ///< of text
  std::string text;
  std::string link;  ///< id of a card
};

struct Drawing {
  double width = 0, height = 0;
  std::string kind;   ///< class of the SVG
  std::string words;  ///< what a screen reader says; empty: the drawing repeats what stands beside it
  std::vector<Drawn> items;

  Drawn& rect(double x, double y, double w, double h, Fill fill, Fill stroke = {});
  Drawn& line(double x1, double y1, double x2, double y2, Tone tone, double width = 1);
  Drawn& polygon(std::vector<double> points, Fill fill);
  Drawn& circle(double x, double y, double radius, Fill fill, Fill stroke = {});
  Drawn& text(double x, double y, std::string words, double size, Tone tone);
  /// The sign of an action in a box of `side`, with its top left corner at x, y.
  void sign(double x, double y, double side, Action action);
};

std::string svg_of(const Drawing& drawing);
/// The patterns of the causes, as SVG; once a page, before the first drawing.
std::string pattern_definitions();

/// For id and href: letters, digits, - and _; anything else by its number, so that two ids never meet.
std::string anchor(const std::string& id);

}  // namespace lotwear
