#include "measure/fading.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "base/colour_difference.hpp"

namespace lotwear {
namespace {

double luminance(const Ratio& r) { return 0.2126 * r[0] + 0.7152 * r[1] + 0.0722 * r[2]; }

/// Fresh paint, linear R G B, inside the daytime boxes of 23 CFR 655 Subpart F Appendix, Table 5 (from memory), and how
/// far makers' coats spread within them: of the log, a channel each. Dark channels spread most.
struct FreshPaint {
  Ratio middle, spread;
};
FreshPaint fresh_paint(Colour colour) {
  switch (colour) {
    case Colour::yellow:
      return {{0.74, 0.44, 0.055}, {0.05, 0.10, 0.35}};
    case Colour::blue:
      return {{0.038, 0.12, 0.31}, {0.30, 0.17, 0.15}};
    case Colour::red:
      return {{0.37, 0.046, 0.041}, {0.13, 0.27, 0.27}};
    case Colour::green:
      return {{0.05, 0.28, 0.12}, {0.30, 0.15, 0.20}};
    case Colour::black:
      return {{0.03, 0.03, 0.03}, {0.20, 0.20, 0.20}};
    case Colour::white:
    case Colour::other:
      break;
  }
  return {{0.75, 0.75, 0.72}, {0.02, 0.02, 0.03}};
}

/// What lies beside a marking: middle reflectance, linear R G B, and the spread of its log. From new to weathered:
/// asphalt 0.05 to 0.22, concrete 0.18 to 0.45 (common practice, no source).
struct Beside {
  Ratio middle;
  double spread, chance;
};

/// Every pavement tried: middle ones of each kind and how far to either side, in spreads.
struct Bare {
  Ratio light;
  double chance;
};
std::vector<Bare> grounds(double chance_of_concrete, bool on_field) {
  const double concrete = std::clamp(chance_of_concrete, 0.02, 0.98);
  std::vector<Beside> kinds{{{0.104, 0.102, 0.099}, 0.46, 1 - concrete}, {{0.315, 0.305, 0.285}, 0.27, concrete}};
  if (on_field) kinds = {{{0.045, 0.12, 0.28}, 0.30, 1.0}};
  // Steps finer than paint scatters.
  constexpr int kSteps = 16;
  constexpr double kStep = 0.16;
  std::vector<Bare> all;
  for (const Beside& kind : kinds) {
    for (int g = -kSteps; g <= kSteps; ++g) {
      Bare bare{kind.middle, kind.chance * std::exp(-0.5 * g * g * kStep * kStep)};
      for (double& v : bare.light)
        v *= std::exp(g * kStep * kind.spread);
      all.push_back(bare);
    }
  }
  return all;
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

constexpr int kFadings = 26;
constexpr double kFadingStep = 0.04;

/// How well the ratio seen agrees with fresh paint faded by a share on one pavement; the log of a likelihood.
double agreement(const PaintOverPavement& seen, const Ratio& now, const Ratio& bare, const Ratio& spread) {
  // All channels together: coats differ in brightness by a twentieth, pavement from spot to spot by more. Each for
  // itself: makers' colours, the pavement's tint.
  constexpr double kBrightness = 0.05, kSpots = 0.08, kTint = 0.05;
  const double together = std::hypot(kBrightness, kSpots, seen.error);
  double squares = 0, sum = 0, weights = 1 / (together * together);
  for (std::size_t k = 0; k < 3; ++k) {
    const double off = std::log(std::clamp(seen.ratio[k], 0.02, 50.0)) - std::log(std::max(1e-4, now[k] / bare[k]));
    if (seen.clipped[k] && off < 0) continue;
    const double own = std::hypot(spread[k], kTint), w = 1 / (own * own);
    squares += w * off * off, sum += w * off, weights += w;
  }
  return -0.5 * std::min(60.0, squares - sum * sum / weights);
}

/// One marking's chances over pavements and degrees of fading, and what each would mean.
struct Table {
  std::vector<double> weight, faded;  // pavements x fadings
  std::vector<double> evidence;       // of each pavement
};
Table table_of(const PaintOverPavement& seen, const std::vector<Bare>& pavements) {
  const FreshPaint fresh = fresh_paint(seen.colour);
  Table table;
  for (const Bare& bare : pavements) {
    const double whole = std::max(1.0, apart(fresh.middle, bare.light));
    double sum = 0;
    for (int f = 0; f < kFadings; ++f) {
      const double share = kFadingStep * f;
      const Ratio now = weathered(fresh.middle, bare.light, share);
      const double weight = std::exp(agreement(seen, now, bare.light, fresh.spread)) * chance_of_fading(share);
      table.weight.push_back(weight);
      table.faded.push_back(std::clamp(1 - apart(now, bare.light) / whole, 0.0, 1.0));
      sum += weight;
    }
    table.evidence.push_back(sum);
  }
  return table;
}

/// What one marking says of the pavement, as far as it is believed: it may be something else than it seems.
std::vector<double> believed(const Table& table, const std::vector<Bare>& pavements) {
  constexpr double kMistaken = 0.1;
  double mean = 0, chances = 0;
  for (std::size_t g = 0; g < pavements.size(); ++g)
    mean += pavements[g].chance * table.evidence[g], chances += pavements[g].chance;
  mean /= std::max(1e-300, chances);
  std::vector<double> says;
  for (const double e : table.evidence)
    says.push_back(mean > 0 ? (1 - kMistaken) * e / mean + kMistaken : 1.0);
  return says;
}

/// Which quantile stands for the fading. The median came out 10 points low where 10 to 25 were said (455 markings of
/// rendered walks: of 46 over the policy's 25 % this one finds 23, the quantile 0.55 finds 19; 11 false ones for both).
constexpr double kMiddle = 0.65;

Interval interval_over(const Table& table, const std::vector<double>& pavement_chance) {
  std::vector<std::pair<double, double>> faded;  // share, weight
  double all = 0;
  for (std::size_t i = 0; i < table.weight.size(); ++i) {
    const double weight = table.weight[i] * pavement_chance[i / kFadings];
    faded.emplace_back(table.faded[i], weight);
    all += weight;
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
  return {Fraction{quantile(0.03)}, Fraction{quantile(kMiddle)}, Fraction{quantile(0.97)}};
}

}  // namespace

std::vector<Interval> fading_of(const std::vector<PaintOverPavement>& markings) {
  double concrete = 0, on_pavement = 0;
  for (const PaintOverPavement& m : markings) {
    if (!m.on_field) concrete += m.chance_of_concrete, on_pavement += 1;
  }
  const std::vector<Bare> pavement = grounds(on_pavement > 0 ? concrete / on_pavement : 0.5, false),
                          field = grounds(0, true);
  std::vector<Table> tables;
  std::vector<std::vector<double>> says;
  for (const PaintOverPavement& m : markings) {
    tables.push_back(table_of(m, m.on_field ? field : pavement));
    says.push_back(believed(tables.back(), m.on_field ? field : pavement));
  }
  std::vector<Interval> faded;
  for (std::size_t i = 0; i < markings.size(); ++i) {
    std::vector<double> chance;
    for (const Bare& bare : markings[i].on_field ? field : pavement)
      chance.push_back(bare.chance);
    for (std::size_t other = 0; other < markings.size(); ++other) {
      if (other == i || markings[i].on_field || markings[other].on_field) continue;
      for (std::size_t g = 0; g < chance.size(); ++g)
        chance[g] *= says[other][g];
    }
    faded.push_back(interval_over(tables[i], chance));
  }
  return faded;
}

}  // namespace lotwear
