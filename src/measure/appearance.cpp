#include "measure/appearance.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core.hpp>

namespace lotwear {
namespace {

double luminance(const Ratio& r) { return 0.2126 * r[0] + 0.7152 * r[1] + 0.0722 * r[2]; }

}  // namespace

Colour colour_of_ratio(const Ratio& ratio, bool grey) {
  // Pavement is near grey, a little warm.
  const Ratio paint{ratio[0] * 1.03, ratio[1], ratio[2] * 0.94};
  const double bright = luminance(paint);
  if (grey) return bright < 0.75 ? Colour::black : Colour::white;
  const double red = paint[0] / std::max(1e-3, paint[1]), blue = paint[2] / std::max(1e-3, paint[1]);
  if (blue > 1.45 && blue > 1.3 * red) return Colour::blue;
  if (red > 1.8 && (blue < 1.4 || red > 2 * blue)) return blue < 0.45 && red < 2.6 ? Colour::yellow : Colour::red;
  if (blue < 0.72 && red > 0.95) return Colour::yellow;
  if (red < 0.72 && blue < 0.9) return Colour::green;
  return bright < 0.75 ? Colour::black : Colour::white;
}

Colour colour_of_paint(const PlanView& plan, const Separation& paint, const Ratio& over_pavement, bool grey) {
  if (!plan.on_field) return colour_of_ratio(over_pavement, grey);
  // On a painted field the field's colour is no neutral reference; the camera's own white balance is a fair one.
  const cv::Scalar field = cv::mean(paint.bare, plan.ours);
  Ratio seen{};
  for (std::size_t k = 0; k < 3; ++k)
    seen[k] = field[static_cast<int>(k)] * over_pavement[k];
  const double bright = std::max(1e-6, luminance(seen));
  for (double& v : seen)
    v *= 3 / bright;
  return colour_of_ratio(seen, grey);
}

double chance_of_concrete(const Separation& paint) {
  // White over asphalt stands 3 to 8 times brighter, over concrete 1.5 to 2.5; asphalt's stones show, concrete is even.
  const double smooth = 0.11 - paint.look.texture;
  const double bright = 2.6 - luminance(paint.over_pavement);
  const Colour colour = colour_of_ratio(paint.over_pavement, false);
  const bool tells = colour == Colour::white || colour == Colour::yellow;
  return 1 / (1 + std::exp(-3 * (12 * smooth + (tells ? 1.2 * bright : 0.0))));
}

Surface surface_of(const Separation& paint) {
  return chance_of_concrete(paint) > 0.5 ? Surface::concrete : Surface::asphalt;
}

Appearance appearance_of(const PlanView& plan, const Separation& paint, double core_mm) {
  Appearance seen;
  seen.contrast = luminance(paint.over_pavement);
  double soiled = 0, sound = 0;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      if (plan.ours.at<unsigned char>(r, c) == 0 || plan.inside_mm.at<float>(r, c) <= static_cast<float>(core_mm))
        continue;
      if (paint.share.at<float>(r, c) < 0.5F) continue;
      sound += 1;
      soiled += paint.paint_gain.at<float>(r, c) < 0.82F ? 1 : 0;
    }
  }
  seen.soiled = Fraction{sound > 0 ? soiled / sound : 0};
  return seen;
}

}  // namespace lotwear
