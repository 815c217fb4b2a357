#pragma once
// How much of its difference from the pavement the remaining paint has lost against a fresh coat. A photo shows only
// paint over pavement: pale paint on pale pavement and fresh paint on dark pavement look the same by that ratio. So
// every pavement that the surface allows is tried with every degree of fading, each as likely as it is common and as it
// agrees with the ratio seen; what is left open is the interval's width. The markings of one photo lie on one pavement:
// one that can only be fresh paint on dark pavement tells how dark it is for all of them.
// Tried and lost: the scale sheet's paper as a white of known lightness. On 130 markings of photos with a sheet it told
// 19 of 24 faded ones for 15, and took 27 of 103 sound ones for faded for 12; with paint taken for a quarter darker
// than paper of the same reflectance (stones shade it) 17 and 17. Paper is often at the top of the scale, and soil,
// film and slanting sun dim paint as much as fading does.

#include <array>
#include <vector>

#include "base/kinds.hpp"
#include "base/units.hpp"
#include "measure/paint_guess.hpp"

namespace lotwear {

/// What one marking shows of its paint against its pavement.
struct PaintOverPavement {
  Ratio ratio{};                                     ///< linear light
  std::array<bool, 3> clipped{false, false, false};  ///< at the top of the scale: the ratio is at least this
  Colour colour = Colour::other;
  double chance_of_concrete = 0;  ///< else asphalt
  double error = 0;               ///< one standard deviation of the log of the ratio
  bool on_field = false;          ///< lies on a painted blue field, not on the pavement
};

/// For each marking of a photo, in their order; intervals are 90 %, their values a little above the median (fading.cpp
/// says why).
std::vector<Interval> fading_of(const std::vector<PaintOverPavement>& markings);

}  // namespace lotwear
