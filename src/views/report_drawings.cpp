#include "views/report_drawings.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "views/html_text.hpp"
#include "views/palette.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

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

/// Shares scaled to make 1 together; a page draws what it is given, also when that adds up to a little more or less.
std::vector<double> parts(const std::vector<ReportShare>& shares) {
  double sum = 0;
  for (const ReportShare& share : shares)
    sum += std::max(0.0, share.percent);
  std::vector<double> all;
  for (const ReportShare& share : shares)
    all.push_back(sum > 0 ? std::max(0.0, share.percent) / sum : 0);
  return all;
}

std::string spoken(const ReportCard& card) {
  std::string words = card.remaining_words;
  for (std::size_t i = 1; i < card.shares.size(); ++i) {
    if (card.shares[i].percent >= 0.05) {
      words += fmt::format("; {} {}", number(card.shares[i].percent, 1) + "\u00a0%", card.shares[i].words);
    }
  }
  return escape(words);
}

}  // namespace

std::string pattern_definitions() {
  std::string all = "<svg class='defs' width='0' height='0' aria-hidden='true' focusable='false'><defs>";
  for (const Spot spot : kKeySpots)
    all += pattern(spot);
  return all + "</defs></svg>\n";
}

std::string gauge_svg(const ReportCard& card, double repaint_below) {
  constexpr double left = 12, width = 376, bar_top = 40, bar_height = 20;
  const auto x = [&](double percent) { return left + width * std::clamp(percent, 0.0, 100.0) / 100; };
  std::string svg = fmt::format(
      "<svg class='gauge' viewBox='0 0 400 78' role='img' aria-label='{}'>"
      "<line class='g-axis' x1='{:.1f}' y1='24' x2='{:.1f}' y2='24'/>",
      spoken(card), left, left + width);
  for (const int tick : {0, 25, 50, 75, 100}) {
    svg += fmt::format(
        "<line class='g-tick' x1='{0:.1f}' y1='20' x2='{0:.1f}' y2='28'/>"
        "<text class='g-text' x='{0:.1f}' y='75' text-anchor='middle'>{1}</text>",
        x(tick), tick);
  }
  svg += fmt::format(
      "<line class='g-limit' x1='{0:.1f}' y1='15' x2='{0:.1f}' y2='{1:.1f}'/>"
      "<text class='g-text' x='{0:.1f}' y='10' text-anchor='middle'>repaint below {2:.0f}</text>",
      x(repaint_below), bar_top + bar_height + 2, repaint_below);
  svg += fmt::format(
      "<rect class='g-range' x='{:.1f}' y='19' width='{:.1f}' height='10' rx='2'/>"
      "<path class='g-mark' d='M{:.1f} 15l5 9l-5 9l-5 -9z'/>",
      x(card.low), std::max(2.0, x(card.high) - x(card.low)), x(card.remaining));
  double at = left;
  const std::vector<double> part = parts(card.shares);
  for (std::size_t i = 0; i < part.size(); ++i) {
    if (part[i] <= 0) continue;
    svg += fmt::format("<rect x='{:.1f}' y='{}' width='{:.1f}' height='{}' fill='url(#fill-{})'/>", at, bar_top,
                       width * part[i], bar_height, pattern_id(card.shares[i].spot));
    at += width * part[i];
  }
  svg += fmt::format("<rect class='g-frame' x='{}' y='{}' width='{}' height='{}'/></svg>", left, bar_top, width,
                     bar_height);
  return svg;
}

std::string stripe_svg(const ReportCard& card) {
  constexpr double height = 92, width = 22;
  std::string svg =
      "<svg class='stripe' viewBox='0 0 24 94' width='24' height='94' aria-hidden='true' focusable='false'>";
  double at = 1 + height;
  const std::vector<double> part = parts(card.shares);
  for (std::size_t i = 0; i < part.size(); ++i) {
    if (part[i] <= 0) continue;
    at -= height * part[i];
    svg += fmt::format("<rect x='1' y='{:.1f}' width='{}' height='{:.1f}' fill='url(#fill-{})'/>", at, width,
                       height * part[i], pattern_id(card.shares[i].spot));
  }
  return svg + fmt::format("<rect class='g-frame' x='1' y='1' width='{}' height='{}'/></svg>", width, height);
}

std::string swatch_svg(Spot spot) {
  return fmt::format(
      "<svg class='swatch' viewBox='0 0 18 12' width='18' height='12' aria-hidden='true' focusable='false'>"
      "<rect class='g-frame' x='.5' y='.5' width='17' height='11' style='fill:url(#fill-{})'/></svg>",
      pattern_id(spot));
}

std::string action_svg(Action action) {
  const char* shape = "<circle cx='8' cy='8' r='5.5' fill='none' stroke='currentColor' stroke-width='2'/>";
  if (action == Action::repaint) {
    shape =
        "<circle cx='8' cy='8' r='5.5' fill='none' stroke='currentColor' stroke-width='2'/>"
        "<path d='M8 2.5a5.5 5.5 0 0 1 0 11z' fill='currentColor'/>";
  } else if (action == Action::grind_and_repaint) {
    shape = "<path d='M8 .8L15.2 8L8 15.2L.8 8z' fill='currentColor'/>";
  }
  return fmt::format(
      "<svg class='sign' viewBox='0 0 16 16' width='16' height='16' aria-hidden='true' focusable='false'>{}</svg>",
      shape);
}

}  // namespace lotwear
