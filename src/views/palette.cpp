#include "views/palette.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/colour_difference.hpp"
#include "capture/photo.hpp"

namespace lotwear {

std::string hex(Ink ink) { return fmt::format("#{:02x}{:02x}{:02x}", ink.r, ink.g, ink.b); }

double contrast(Ink one, Ink other) {
  const auto luminance = [](Ink i) {
    return xyz_from_linear({srgb_to_linear(i.r / 255.0), srgb_to_linear(i.g / 255.0), srgb_to_linear(i.b / 255.0)}).y;
  };
  const double a = luminance(one), b = luminance(other);
  return (std::max(a, b) + 0.05) / (std::min(a, b) + 0.05);
}

}  // namespace lotwear
