#pragma once
// What the bare pavement beside a marking looks like: its colour in sun and in shade (linear light, R G B, 0..1),
// whether both fall on it, and how much its stones scatter pixel by pixel.

#include <array>
#include <optional>

#include "measure/plan_view.hpp"

namespace lotwear {

struct PavementLook {
  std::array<double, 3> sun{}, shade{};  ///< mean linear light of bare pavement in the brightest and the deepest light
  bool broken = false;                   ///< light and shade both fall on the pavement beside the marking
  double texture = 0.15;                 ///< spread of the log brightness of bare pavement, pixel by pixel
  double chroma_spread = 0.03;           ///< spread of the shares of red and blue of bare pavement
  double share_seen = 0;                 ///< pixels beside the marking over pixels inside
};

/// Nothing when no pavement is to be seen beside the marking.
std::optional<PavementLook> look_of_pavement(const PlanView& plan);

}  // namespace lotwear
