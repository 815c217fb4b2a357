#pragma once
// What is known of a marking's paint before the light on it is settled, as light over that of the bare pavement beside
// it (linear, without unit, 1: no brighter than pavement).

#include <array>

namespace lotwear {

using Ratio = std::array<double, 3>;  ///< paint over pavement, R G B, linear light

/// What is known of the paint before the light is settled.
struct PaintGuess {
  Ratio over_pavement{};
  double spread = 0.08;  ///< spread of the log brightness of sound paint, pixel by pixel
};

}  // namespace lotwear
