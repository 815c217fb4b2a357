#include "views/drawing.hpp"

#include <fmt/format.h>

namespace lotwear {

Ink ink_of(Tone tone, const PageInks& page) {
  switch (tone) {
    case Tone::card:
      return page.card;
    case Tone::tint:
      return page.tint;
    case Tone::edge:
      return page.edge;
    case Tone::ink:
      return page.ink;
    case Tone::quiet:
      return page.quiet_ink;
    case Tone::link:
      return page.link_ink;
    case Tone::leave:
      return page.leave_ink;
    case Tone::repaint:
      return page.repaint_ink;
    case Tone::grind:
      return page.grind_ink;
  }
  return page.ink;
}

Tone tone_of(Action action) {
  switch (action) {
    case Action::repaint:
      return Tone::repaint;
    case Action::grind_and_repaint:
      return Tone::grind;
    default:
      return Tone::leave;
  }
}

Drawn& Drawing::rect(double x, double y, double w, double h, Fill fill, Fill stroke) {
  Drawn one;
  one.at = {x, y, w, h}, one.fill = fill, one.stroke = stroke;
  return items.emplace_back(std::move(one));
}

Drawn& Drawing::line(double x1, double y1, double x2, double y2, Tone tone, double line_width) {
  Drawn one;
  one.is = Drawn::Is::line, one.at = {x1, y1, x2, y2}, one.stroke = tone, one.stroke_width = line_width;
  return items.emplace_back(std::move(one));
}

Drawn& Drawing::polygon(std::vector<double> points, Fill fill) {
  Drawn one;
  one.is = Drawn::Is::polygon, one.at = std::move(points), one.fill = fill;
  return items.emplace_back(std::move(one));
}

Drawn& Drawing::circle(double x, double y, double radius, Fill fill, Fill stroke) {
  Drawn one;
  one.is = Drawn::Is::circle, one.at = {x, y, radius}, one.fill = fill, one.stroke = stroke;
  return items.emplace_back(std::move(one));
}

Drawn& Drawing::text(double x, double y, std::string said, double size, Tone tone) {
  Drawn one;
  one.is = Drawn::Is::text, one.at = {x, y}, one.text = std::move(said), one.size = size, one.fill = tone;
  return items.emplace_back(std::move(one));
}

void Drawing::sign(double x, double y, double side, Action action) {
  const double unit = side / 16, cx = x + 8 * unit, cy = y + 8 * unit, r = 5.5 * unit;
  const Tone tone = tone_of(action);
  if (action == Action::grind_and_repaint) {
    const double reach = 7.2 * unit;
    polygon({cx, cy - reach, cx + reach, cy, cx, cy + reach, cx - reach, cy}, tone);
    return;
  }
  circle(cx, cy, r, {}, tone).stroke_width = 2 * unit;
  if (action != Action::repaint) return;
  Drawn half;
  half.is = Drawn::Is::half_disc, half.at = {cx, cy, r}, half.fill = tone;
  items.push_back(std::move(half));
}

std::string anchor(const std::string& id) {
  std::string safe = "m-";
  for (const char c : id) {
    const bool plain = (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-';
    safe += plain ? std::string(1, c) : fmt::format("_{:02x}", static_cast<unsigned>(static_cast<unsigned char>(c)));
  }
  return safe;
}

}  // namespace lotwear
