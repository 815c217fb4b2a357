#include "views/palette.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <set>
#include <string>

#include "base/colour_difference.hpp"
#include "views/drawing.hpp"

namespace lotwear {
namespace {

using Matrix = std::array<double, 9>;

// Machado, Oliveira and Fernandes, IEEE Trans. Visualization and Computer Graphics 15(6), 2009: linear RGB, severity 1.
constexpr std::array<Matrix, 4> kVisions = {
    {{1, 0, 0, 0, 1, 0, 0, 0, 1},
     {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
     {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
     {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900}}};
constexpr std::array kNames = {"normal", "protan", "deutan", "tritan"};

Lab seen_by(Ink ink, const Matrix& m) {
  const auto linear = [](int v) {  // IEC 61966-2-1
    const double e = v / 255.0;
    return e <= 0.04045 ? e / 12.92 : std::pow((e + 0.055) / 1.055, 2.4);
  };
  const double r = linear(ink.r), g = linear(ink.g), b = linear(ink.b);
  const auto row = [&](std::size_t i) { return std::clamp(m[i] * r + m[i + 1] * g + m[i + 2] * b, 0.0, 1.0); };
  return lab_from_linear({row(0), row(3), row(6)});
}

constexpr std::array kCauses = {kPaintLeft, kAbraded, kOlderCoat, kFlaked, kCracked};

TEST(Palette, CausesStayApartForEveryColourVision) {
  double least = 1000;
  for (std::size_t v = 0; v < kVisions.size(); ++v) {
    for (std::size_t i = 0; i < kCauses.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const double apart = colour_difference(seen_by(kCauses[i], kVisions[v]), seen_by(kCauses[j], kVisions[v]));
        EXPECT_GT(apart, 28) << kNames[v] << ' ' << hex(kCauses[i]) << ' ' << hex(kCauses[j]);
        least = std::min(least, apart);
      }
    }
  }
  RecordProperty("least_ciede2000", std::to_string(least));
  std::printf("least CIEDE2000 between two causes under any vision: %.1f\n", least);
}

TEST(Palette, CausesAreStepsOfLightnessInGreyPrint) {
  for (std::size_t i = 1; i < kCauses.size(); ++i) {
    EXPECT_GT(seen_by(kCauses[i - 1], kVisions[0]).l - seen_by(kCauses[i], kVisions[0]).l, 14) << hex(kCauses[i]);
  }
}

TEST(Palette, EveryLossHasItsOwnPatternThatShows) {
  for (const Spot one : kKeySpots) {
    for (const Spot other : kKeySpots) {
      const bool plain = one == Spot::paint || one == Spot::cracked;
      if (one != other && !plain) {
        EXPECT_NE(texture_of(one), texture_of(other));
      }
    }
    if (texture_of(one) != Texture::plain) {
      EXPECT_GT(std::abs(seen_by(fill_of(one), kVisions[0]).l - seen_by(texture_ink(one), kVisions[0]).l), 18)
          << key_words(one);
    }
  }
}

// WCAG 2.2 success criterion 1.4.3: 4.5 to 1 for text.
TEST(Palette, TextStandsOutFromItsGround) {
  for (const PageInks& page : {kLightPage, kDarkPage}) {
    for (const Ink ground : {page.page, page.card, page.tint}) {
      for (const Ink ink :
           {page.ink, page.quiet_ink, page.link_ink, page.leave_ink, page.repaint_ink, page.grind_ink, page.warn_ink}) {
        EXPECT_GE(contrast(ink, ground), 4.5) << hex(ink) << " on " << hex(ground);
      }
    }
    for (const Ink ink : {page.band_ink, page.band_quiet_ink})
      EXPECT_GE(contrast(ink, page.band), 4.5) << hex(ink);
  }
}

TEST(Contrast, HasTheEndsOfItsScale) {
  EXPECT_NEAR(contrast({0, 0, 0}, {255, 255, 255}), 21, 1e-9);
  EXPECT_EQ(contrast({90, 90, 90}, {90, 90, 90}), 1);
  EXPECT_EQ(contrast({10, 20, 30}, {200, 210, 220}), contrast({200, 210, 220}, {10, 20, 30}));
}

TEST(Ink, IsWrittenAsPagesWriteIt) { EXPECT_EQ(hex({1, 171, 255}), "#01abff"); }

// WCAG 2.2, 1.4.11: what has to be seen and is no text, 3 to 1 or more. The bars of the crew plan, the frames of the
// site plan's labels and the signs of the actions stand on a card or on the page.
TEST(Palette, BarsFramesAndSignsStandOut) {
  for (const PageInks& page : {kLightPage, kDarkPage}) {
    for (const Ink ink : {page.link_ink, page.leave_ink, page.repaint_ink, page.grind_ink, page.ink, page.quiet_ink}) {
      EXPECT_GT(contrast(ink, page.card), 3) << hex(ink);
      EXPECT_GT(contrast(ink, page.page), 3) << hex(ink);
    }
  }
}

// The three actions have signs of different shapes; where colour is seen, it must not say the same of two of them.
TEST(Palette, ActionsAreNotToldApartByColourAlone) {
  double least = 1000;
  for (std::size_t v = 0; v < kVisions.size(); ++v) {
    const std::array inks = {kLightPage.leave_ink, kLightPage.repaint_ink, kLightPage.grind_ink};
    for (std::size_t i = 0; i < inks.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j)
        least = std::min(least, colour_difference(seen_by(inks[i], kVisions[v]), seen_by(inks[j], kVisions[v])));
    }
  }
  std::printf("least CIEDE2000 between two actions under any vision: %.1f\n", least);
  EXPECT_GT(least, 5);
  std::set<std::string> shapes;
  for (const Action action : {Action::no_action, Action::repaint, Action::grind_and_repaint}) {
    Drawing sign;
    sign.sign(0, 0, 16, action);
    std::string shape;
    for (const Drawn& one : sign.items)
      shape += std::to_string(static_cast<int>(one.is));
    shapes.insert(shape);
  }
  EXPECT_EQ(shapes.size(), 3U);
}

}  // namespace
}  // namespace lotwear
