#include "measure/light_levels.hpp"

#include <algorithm>
#include <cmath>

#include "measure/light_look.hpp"

namespace lotwear {

LightLevels levels_of(const PavementLook& look, const PaintGuess& paint, float low, float high) {
  LightLevels levels;
  const int count = std::clamp(static_cast<int>(std::ceil((high - low) / 0.14F)) + 1, 3, 18);
  levels.step = static_cast<double>(high - low) / (count - 1);
  const auto light = [](const std::array<double, 3>& c) { return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]; };
  const double sun = light(look.sun), shade = light(look.shade);
  for (std::size_t i = 0; i < static_cast<std::size_t>(count); ++i) {
    const double wanted = std::exp(static_cast<double>(low) + static_cast<double>(i) * levels.step);
    // Sun adds to skylight, so colours between the two lie on a line in linear light.
    const double s = std::clamp((wanted - shade) / std::max(1e-6, sun - shade), 0.0, 1.0);
    cv::Vec3f bare;
    double now = 0;
    std::array<double, 3> mix{};
    for (std::size_t k = 0; k < 3; ++k)
      mix[k] = look.shade[k] + s * (look.sun[k] - look.shade[k]);
    now = light(mix);
    for (int k = 0; k < 3; ++k)
      bare[k] = static_cast<float>(mix[static_cast<std::size_t>(k)] * wanted / now);
    levels.bare.push_back(bare);
    for (std::size_t f = 0; f < kPaintShares; ++f) {
      cv::Vec3f v;
      for (int k = 0; k < 3; ++k)
        v[k] = bare[k] * static_cast<float>(1 + static_cast<double>(f) / (kPaintShares - 1.0) *
                                                    (paint.over_pavement[static_cast<std::size_t>(k)] - 1));
      const LightLook seen = look_at(v);
      levels.log_light[f][i] = seen.log_light, levels.red[f][i] = seen.red, levels.blue[f][i] = seen.blue;
    }
  }
  return levels;
}

}  // namespace lotwear
