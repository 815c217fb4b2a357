#include "base/colour_difference.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lotwear {

namespace {

constexpr double kDegree = std::numbers::pi / 180.0;

/// CIE 15: cube root above (6/29)^3, its tangent below.
double lab_curve(double t) {
  constexpr double edge = 6.0 / 29.0;
  return t > edge * edge * edge ? std::cbrt(t) : t / (3 * edge * edge) + 4.0 / 29.0;
}

/// Hue angle in degrees, 0..360; 0 for a grey.
double hue_of(double a, double b) {
  if (a == 0 && b == 0) return 0;
  const double h = std::atan2(b, a) / kDegree;
  return h < 0 ? h + 360 : h;
}

double seventh_power_share(double chroma) {
  const double c7 = std::pow(chroma, 7);
  return std::sqrt(c7 / (c7 + std::pow(25.0, 7)));
}

}  // namespace

Xyz xyz_from_linear(LinearRgb c) {
  return {0.4124 * c.r + 0.3576 * c.g + 0.1805 * c.b, 0.2126 * c.r + 0.7152 * c.g + 0.0722 * c.b,
          0.0193 * c.r + 0.1192 * c.g + 0.9505 * c.b};
}

Lab lab_from_xyz(Xyz c, Xyz white) {
  const double fx = lab_curve(c.x / white.x), fy = lab_curve(c.y / white.y), fz = lab_curve(c.z / white.z);
  return {116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)};
}

Lab lab_from_linear(LinearRgb colour) { return lab_from_xyz(xyz_from_linear(colour)); }

// Names and order of the steps follow the paper's section 2, so that the two can be read side by side.
double colour_difference(Lab one, Lab other) {
  const double mean_c = (std::hypot(one.a, one.b) + std::hypot(other.a, other.b)) / 2;
  const double stretch = 1.5 - 0.5 * seventh_power_share(mean_c);  // 1 + G
  const double a1 = stretch * one.a, a2 = stretch * other.a;
  const double c1 = std::hypot(a1, one.b), c2 = std::hypot(a2, other.b);
  const double h1 = hue_of(a1, one.b), h2 = hue_of(a2, other.b);

  const bool grey = c1 * c2 == 0;
  double turn = grey ? 0 : h2 - h1;
  if (turn > 180) turn -= 360;
  if (turn < -180) turn += 360;
  const double dl = other.l - one.l, dc = c2 - c1, dh = 2 * std::sqrt(c1 * c2) * std::sin(turn / 2 * kDegree);

  const double l = (one.l + other.l) / 2, c = (c1 + c2) / 2;
  double h = h1 + h2;  // a grey has no hue: the other's counts alone
  if (!grey) {
    if (std::abs(h1 - h2) <= 180) {
      h /= 2;
    } else {
      h = h < 360 ? (h + 360) / 2 : (h - 360) / 2;
    }
  }
  const double t = 1 - 0.17 * std::cos((h - 30) * kDegree) + 0.24 * std::cos(2 * h * kDegree) +
                   0.32 * std::cos((3 * h + 6) * kDegree) - 0.20 * std::cos((4 * h - 63) * kDegree);
  const double from_50 = (l - 50) * (l - 50);
  const double sl = 1 + 0.015 * from_50 / std::sqrt(20 + from_50);
  const double sc = 1 + 0.045 * c;
  const double sh = 1 + 0.015 * c * t;
  const double bend = 30 * std::exp(-std::pow((h - 275) / 25, 2));
  const double rt = -std::sin(2 * bend * kDegree) * 2 * seventh_power_share(c);

  const double pl = dl / sl, pc = dc / sc, ph = dh / sh;
  return std::sqrt(std::max(0.0, pl * pl + pc * pc + ph * ph + rt * pc * ph));
}

}  // namespace lotwear
