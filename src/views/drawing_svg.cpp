#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "views/drawing.hpp"
#include "views/html_text.hpp"

namespace lotwear {

namespace {

const char* css_name(Tone tone) {
  switch (tone) {
    case Tone::card:
      return "card";
    case Tone::tint:
      return "tint";
    case Tone::edge:
      return "edge";
    case Tone::ink:
      return "ink";
    case Tone::quiet:
      return "quiet";
    case Tone::link:
      return "link";
    case Tone::leave:
      return "leave";
    case Tone::repaint:
      return "repaint";
    case Tone::grind:
      return "grind";
  }
  return "ink";
}

const char* pattern_id(Spot spot) {
  switch (spot) {
    case Spot::abraded:
      return "worn";
    case Spot::flaked:
      return "flaked";
    case Spot::cracked:
      return "cracked";
    case Spot::older_coat:
      return "older";
    case Spot::soiled:
      return "dirty";
    case Spot::unseen:
      return "unseen";
    default:
      return "paint";
  }
}

/// The patterns of the loss pictures, in user units of about a pixel.
std::string pattern(Spot spot) {
  const std::string ink = hex(texture_ink(spot));
  int side = 8;
  std::string marks;
  switch (texture_of(spot)) {
    case Texture::dots:
      side = 6;
      marks = fmt::format("<path d='M0 0h2v2h-2zM3 3h2v2h-2z' fill='{}'/>", ink);
      break;
    case Texture::slanted_lines:
      side = 6;
      marks = fmt::format("<path d='M-1 1L1 -1M-1 7L7 -1M5 7L7 5' stroke='{}' stroke-width='1.5'/>", ink);
      break;
    case Texture::level_lines:
      side = 6;
      marks = fmt::format("<path d='M0 1h6' stroke='{}' stroke-width='2'/>", ink);
      break;
    case Texture::upright_lines:
      side = 5;
      marks = fmt::format("<path d='M.5 0v5' stroke='{}'/>", ink);
      break;
    case Texture::checks:
      marks = fmt::format("<path d='M0 0h4v4h-4zM4 4h4v4h-4z' fill='{}'/>", ink);
      break;
    case Texture::plain:
      break;
  }
  return fmt::format(
      "<pattern id='fill-{0}' width='{1}' height='{1}' patternUnits='userSpaceOnUse'>"
      "<rect width='{1}' height='{1}' fill='{2}'/>{3}</pattern>",
      pattern_id(spot), side, hex(fill_of(spot)), marks);
}

/// A presentation attribute takes no var(); a style does.
std::string paint_of(const Drawn& one) {
  std::string attributes, style;
  if (const Spot* spot = std::get_if<Spot>(&one.fill)) {
    attributes += fmt::format(" fill='url(#fill-{})'", pattern_id(*spot));
  } else if (const Tone* tone = std::get_if<Tone>(&one.fill)) {
    style += fmt::format("fill:var(--{});", css_name(*tone));
  } else {
    attributes += " fill='none'";
  }
  if (const Tone* tone = std::get_if<Tone>(&one.stroke)) {
    style += fmt::format("stroke:var(--{});", css_name(*tone));
    if (one.stroke_width != 1) attributes += fmt::format(" stroke-width='{:.4g}'", one.stroke_width);
    if (one.dashed) attributes += " stroke-dasharray='3 2'";
  }
  if (one.opacity != 1) attributes += fmt::format(" opacity='{:.2g}'", one.opacity);
  if (!style.empty()) attributes += fmt::format(" style='{}'", style);
  return attributes;
}

std::string text_item(const Drawn& one) {
  constexpr std::array anchors = {"middle", "start", "end"};
  return fmt::format("<text x='{:.1f}' y='{:.1f}' text-anchor='{}' font-size='{:.4g}'{}{}>{}</text>", one.at[0],
                     one.at[1], anchors.at(static_cast<std::size_t>(one.align)), one.size,
                     one.bold ? " font-weight='700'" : "", paint_of(one), escape(one.text));
}

std::string svg_item(const Drawn& one) {
  switch (one.is) {
    case Drawn::Is::rect:
      return fmt::format("<rect x='{:.1f}' y='{:.1f}' width='{:.1f}' height='{:.4g}'{}{}/>", one.at[0], one.at[1],
                         one.at[2], one.at[3], paint_of(one),
                         one.corner > 0 ? fmt::format(" rx='{:.4g}'", one.corner) : "");
    case Drawn::Is::line:
      return fmt::format("<line x1='{:.1f}' y1='{:.1f}' x2='{:.1f}' y2='{:.1f}'{}/>", one.at[0], one.at[1], one.at[2],
                         one.at[3], paint_of(one));
    case Drawn::Is::circle:
      return fmt::format("<circle cx='{:.1f}' cy='{:.1f}' r='{:.4g}'{}/>", one.at[0], one.at[1], one.at[2],
                         paint_of(one));
    case Drawn::Is::half_disc:
      return fmt::format("<path d='M{0:.2f} {1:.2f}a{2:.4g} {2:.4g} 0 0 1 0 {3:.4g}z'{4}/>", one.at[0],
                         one.at[1] - one.at[2], one.at[2], 2 * one.at[2], paint_of(one));
    case Drawn::Is::text:
      return text_item(one);
    case Drawn::Is::polygon:
      break;
  }
  std::string path;
  for (std::size_t i = 0; i + 1 < one.at.size(); i += 2)
    path += fmt::format("{}{:.2f} {:.2f}", i == 0 ? "M" : "L", one.at[i], one.at[i + 1]);
  return fmt::format("<path d='{}z'{}/>", path, paint_of(one));
}

}  // namespace

std::string pattern_definitions() {
  std::string all = "<svg class='defs' width='0' height='0' aria-hidden='true' focusable='false'><defs>";
  for (const Spot spot : kKeySpots)
    all += pattern(spot);
  return all + "</defs></svg>\n";
}

std::string svg_of(const Drawing& drawing) {
  // Links inside make it a group: a picture's inside would not be told of.
  const bool leads =
      std::any_of(drawing.items.begin(), drawing.items.end(), [](const Drawn& one) { return !one.link.empty(); });
  const std::string spoken =
      drawing.words.empty() ? "aria-hidden='true' focusable='false'"
                            : fmt::format("role='{}' aria-label='{}'", leads ? "group" : "img", escape(drawing.words));
  std::string svg = fmt::format("<svg class='{}' viewBox='0 0 {:.4g} {:.4g}' {}>", drawing.kind, drawing.width,
                                drawing.height, spoken);
  for (const Drawn& one : drawing.items) {
    // The table beside a drawing holds the same links for the keyboard; here they are for the pointer.
    svg += one.link.empty() ? svg_item(one)
                            : fmt::format("<a href='#{}' tabindex='-1' aria-label='{}'>{}</a>", anchor(one.link),
                                          escape(one.link), svg_item(one));
  }
  return svg + "</svg>";
}

}  // namespace lotwear
