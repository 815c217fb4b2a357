#pragma once
// The colours of everything that people look at: evidence pictures, report, sketches. One list, so that one test can
// check it: causes stay apart for every colour vision and in grey print, text stands out from its ground by 4.5 to 1 or
// more. The cause colours were searched for by number: lightness steps of 14 or more fixed first, then hues for the
// largest CIEDE2000 between the closest pair under normal, protan, deutan and tritan vision (29; the test holds it
// above 25).

#include <array>
#include <cstdint>
#include <string>

#include "base/kinds.hpp"
#include "measure/measure.hpp"

namespace lotwear {

/// sRGB-encoded, 0..255.
struct Ink {
  std::uint8_t r = 0, g = 0, b = 0;
  friend constexpr bool operator==(Ink, Ink) = default;
};

/// "#rrggbb".
std::string hex(Ink ink);

/// WCAG 2.2, "contrast ratio": 1..21, lighter over darker whichever comes first.
double contrast(Ink one, Ink other);

inline constexpr Ink kPaintLeft{243, 243, 238};
inline constexpr Ink kAbraded{222, 152, 28};
inline constexpr Ink kOlderCoat{56, 132, 171};
inline constexpr Ink kFlaked{153, 15, 20};
inline constexpr Ink kCracked{21, 26, 48};
inline constexpr Ink kUnseen{150, 150, 150};

/// Fill of a spot in the loss picture; soiled paint is paint (its pattern tells the dirt).
constexpr Ink fill_of(Spot spot) {
  switch (spot) {
    case Spot::abraded:
      return kAbraded;
    case Spot::flaked:
      return kFlaked;
    case Spot::older_coat:
      return kOlderCoat;
    case Spot::cracked:
      return kCracked;
    case Spot::unseen:
      return kUnseen;
    default:
      return kPaintLeft;
  }
}

/// The pattern over a fill, so that the causes can be told apart without any colour.
enum class Texture { plain, upright_lines, dots, slanted_lines, level_lines, checks };
constexpr Texture texture_of(Spot spot) {
  switch (spot) {
    case Spot::soiled:
      return Texture::upright_lines;
    case Spot::abraded:
      return Texture::dots;
    case Spot::flaked:
      return Texture::slanted_lines;
    case Spot::older_coat:
      return Texture::level_lines;
    case Spot::unseen:
      return Texture::checks;
    default:
      return Texture::plain;
  }
}
/// Ink of the pattern over a fill: dark on light fills, light on dark ones.
constexpr Ink texture_ink(Spot spot) {
  switch (spot) {
    case Spot::soiled:
      return {120, 104, 78};
    case Spot::abraded:
      return {104, 62, 0};
    case Spot::flaked:
      return {238, 190, 190};
    case Spot::older_coat:
      return {214, 234, 244};
    default:
      return {96, 96, 96};
  }
}

/// The words of the key, in the order of the key.
inline constexpr std::array kKeySpots = {Spot::paint,      Spot::soiled,  Spot::abraded, Spot::flaked,
                                         Spot::older_coat, Spot::cracked, Spot::unseen};
constexpr const char* key_words(Spot spot) {
  switch (spot) {
    case Spot::paint:
      return "Paint left";
    case Spot::soiled:
      return "Paint under dirt";
    case Spot::abraded:
      return "Worn off";
    case Spot::flaked:
      return "Flaked off";
    case Spot::older_coat:
      return "Older coat in sight";
    case Spot::cracked:
      return "Cracked";
    case Spot::unseen:
      return "Not seen";
    default:
      return "Pavement";
  }
}

/// One set of colours for the report's page, light or dark. Every `ink` is for text on `page`, `card` and `tint`.
struct PageInks {
  Ink page, card, tint, edge;
  Ink ink, quiet_ink, link_ink;
  Ink leave_ink, repaint_ink, grind_ink, warn_ink;
  Ink band, band_ink, band_quiet_ink;  ///< the cover
};
inline constexpr PageInks kLightPage{{250, 249, 245}, {255, 255, 255}, {239, 237, 229}, {205, 202, 190}, {30, 34, 38},
                                     {84, 89, 94},    {9, 86, 110},    {38, 96, 66},    {128, 79, 0},    {152, 17, 36},
                                     {112, 60, 130},  {38, 43, 48},    {250, 249, 245}, {200, 203, 204}};
inline constexpr PageInks kDarkPage{{22, 25, 28},    {31, 35, 39},    {42, 47, 52},    {74, 80, 86},   {233, 231, 224},
                                    {176, 182, 187}, {128, 200, 222}, {146, 208, 172}, {236, 184, 92}, {255, 158, 166},
                                    {214, 176, 234}, {12, 14, 16},    {250, 249, 245}, {186, 191, 194}};

constexpr Ink action_ink(const PageInks& page, Action action) {
  switch (action) {
    case Action::repaint:
      return page.repaint_ink;
    case Action::grind_and_repaint:
      return page.grind_ink;
    default:
      return page.leave_ink;
  }
}

}  // namespace lotwear
