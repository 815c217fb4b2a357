#include "measure/fading.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "base/colour_difference.hpp"

namespace lotwear {
namespace {

double luminance(const Ratio& r) { return 0.2126 * r[0] + 0.7152 * r[1] + 0.0722 * r[2]; }

/// Fresh paint, linear R G B, inside the daytime boxes of 23 CFR 655 Subpart F Appendix, Table 5 (from memory).
Ratio fresh_paint(Colour colour) {
  switch (colour) {
    case Colour::yellow:
      return {0.72, 0.43, 0.05};
    case Colour::blue:
      return {0.035, 0.12, 0.32};
    case Colour::red:
      return {0.38, 0.05, 0.04};
    case Colour::green:
      return {0.05, 0.28, 0.12};
    case Colour::black:
      return {0.03, 0.03, 0.03};
    case Colour::white:
    case Colour::other:
      break;
  }
  return {0.75, 0.75, 0.72};
}

/// What lies beside a marking: middle reflectance, linear R G B, and the spread of its log. From new to weathered:
/// asphalt 0.05 to 0.22, concrete 0.18 to 0.45 (common practice, no source).
struct Beside {
  Ratio middle;
  double spread, chance;
};
std::vector<Beside> grounds(double chance_of_concrete, bool on_field) {
  if (on_field) return {{{0.045, 0.12, 0.28}, 0.30, 1.0}};
  const double concrete = std::clamp(chance_of_concrete, 0.02, 0.98);
  return {{{0.104, 0.102, 0.099}, 0.46, 1 - concrete}, {{0.315, 0.305, 0.285}, 0.27, concrete}};
}

/// Most markings are hardly faded; the more, the rarer (common practice, no source).
double chance_of_fading(double share) { return (share < 0.02 ? 0.6 : 0.0) + 0.05 * std::exp(-share / 0.35); }

/// Chalked and dulled paint loses its colour's strength and drifts towards the pavement.
Ratio weathered(const Ratio& fresh, const Ratio& ground, double share) {
  const double bright = luminance(fresh);
  const Ratio chalk{0.62 * bright + 0.12, 0.61 * bright + 0.115, 0.58 * bright + 0.105};
  Ratio now{};
  for (std::size_t k = 0; k < 3; ++k)
    now[k] = fresh[k] + share * (0.25 * chalk[k] + 0.75 * ground[k] - fresh[k]);
  return now;
}

double apart(const Ratio& a, const Ratio& b) {
  return colour_difference(lab_from_linear({a[0], a[1], a[2]}), lab_from_linear({b[0], b[1], b[2]}));
}

}  // namespace

Interval fading_of(const Ratio& paint_over_pavement, Colour colour, double chance_of_concrete, double ratio_error,
                   bool on_field) {
  const Ratio fresh = fresh_paint(colour);
  // Coats differ by a tenth from maker to maker; pavement is tinted by a few percent.
  const double brightness = std::hypot(0.10, ratio_error), hue = 0.09;
  Ratio seen{};
  for (std::size_t k = 0; k < 3; ++k)
    seen[k] = std::log(std::clamp(paint_over_pavement[k], 0.02, 50.0));
  std::vector<std::pair<double, double>> faded;  // share, weight
  double all = 0;
  constexpr int kGrounds = 13, kSteps = 26;
  for (const Beside& ground : grounds(chance_of_concrete, on_field)) {
    for (int g = 0; g < kGrounds; ++g) {
      const double z = (g - (kGrounds - 1) / 2.0) * 0.4;
      Ratio bare = ground.middle;
      for (double& v : bare)
        v *= std::exp(z * ground.spread);
      const double whole = std::max(1.0, apart(fresh, bare));
      for (int f = 0; f < kSteps; ++f) {
        const double share = 0.04 * f;
        const Ratio now = weathered(fresh, bare, share);
        Ratio off{};
        double mean = 0;
        for (std::size_t k = 0; k < 3; ++k)
          mean += (off[k] = seen[k] - std::log(std::max(1e-4, now[k] / bare[k]))) / 3;
        double misfit = mean * mean / (brightness * brightness);
        for (const double o : off)
          misfit += (o - mean) * (o - mean) / (hue * hue);
        const double weight =
            ground.chance * std::exp(-0.5 * z * z - 0.5 * std::min(misfit, 60.0)) * chance_of_fading(share);
        faded.emplace_back(std::clamp(1 - apart(now, bare) / whole, 0.0, 1.0), weight);
        all += weight;
      }
    }
  }
  std::sort(faded.begin(), faded.end());
  const auto quantile = [&](double share) {
    double sum = 0;
    for (const auto& [value, weight] : faded) {
      sum += weight;
      if (sum >= share * all) return value;
    }
    return faded.back().first;
  };
  // Wider than 90 % of the model's own: paint and pavement are of more kinds than it knows.
  return {Fraction{quantile(0.03)}, Fraction{quantile(0.5)}, Fraction{quantile(0.97)}};
}

}  // namespace lotwear
