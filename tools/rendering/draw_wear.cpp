#include <algorithm>
#include <cmath>

#include "rendering/draw_parts.hpp"

namespace lotwear::rendering {

CoatPlan draw_coat(Random& random, Colour colour) {
  const auto vary = [&](double v, double by) {
    return static_cast<float>(std::clamp(v + by * random.normal(), 0.004, 0.92));
  };
  switch (colour) {
    case Colour::yellow: {
      const float lemon = static_cast<float>(random.between(-0.06, 0.10));
      return {colour, {vary(0.76, 0.03), 0.43F + lemon, vary(0.06, 0.02)}};
    }
    case Colour::blue:
      return {colour, {vary(0.04, 0.012), vary(0.12, 0.02), vary(0.31, 0.05)}};
    case Colour::red:
      return {colour, {vary(0.36, 0.05), vary(0.045, 0.012), vary(0.042, 0.012)}};
    default: {
      const float level = vary(0.74, 0.04);
      return {colour, {level, level * 0.995F, level * static_cast<float>(random.between(0.94, 1.0))}};
    }
  }
}

WearPlan draw_wear(Random& random, Tier tier, Age age, GroundPoint about) {
  WearPlan w;
  const double worst[] = {0.62, 0.72, 0.94};
  const double most = worst[static_cast<std::size_t>(tier)];
  w.abrasion_spread = random.between(0.2, 0.9);
  w.chip_mm = std::exp(random.between(std::log(4.0), std::log(32.0)));
  w.patch_mm = std::exp(random.between(std::log(60.0), std::log(420.0)));
  w.chip_roughness = random.between(0.12, 0.75);
  w.edge_bias = random.chance(0.4) ? random.between(0.4, 1.6) : 0;
  w.lift_mm = random.between(0.2, 1.3);
  w.crack_mm = std::exp(random.between(std::log(18.0), std::log(160.0)));
  w.crack_width_mm = random.between(0.6, 2.2);
  w.abraded = random.between(0, 0.025);
  switch (age) {
    case Age::fresh:
      break;
    case Age::abraded:
      w.abraded = tier == Tier::hard && random.chance(0.2) ? random.between(0.7, most) : random.between(0.04, most);
      break;
    case Age::flaking:
      w.flaked = random.chance(0.4) ? random.between(0.02, 0.18) : random.between(0.12, 0.8 * most);
      w.abraded = random.between(0, 0.14);
      break;
    case Age::layered:
      w.flaked = random.between(0.04, 0.7 * most);
      w.abraded = random.between(0, 0.2);
      w.between_coats = random.between(0.3, 1.0);
      break;
    case Age::cracked:
      w.cracked = random.between(0.015, 0.13);
      w.abraded = random.between(0, 0.25);
      break;
    case Age::faded:
      w.faded = random.between(0.25, 0.8);
      w.abraded = random.between(0, 0.2);
      break;
  }
  // wear seldom comes alone
  if (age != Age::fresh && age != Age::flaking && random.chance(0.25))
    w.flaked = std::max(w.flaked, random.between(0.005, 0.08));
  if (age != Age::fresh && age != Age::faded && random.chance(0.3)) w.faded = random.between(0.02, 0.3);
  if (w.abraded > 0.03 && random.chance(0.6)) {
    const double turn = random.between(0, 2 * std::numbers::pi), off = random.between(-300, 300);
    for (const double side : {0.0, 1.0}) {
      w.wheel_paths.push_back(
          {{about.x - std::sin(turn) * (off + side * 1550), about.y + std::cos(turn) * (off + side * 1550)},
           turn,
           random.between(220, 480),
           random.between(0.8, 4)});
    }
  }
  return w;
}

void age_marking(Random& random, Tier tier, Age age, MarkingPlan& marking) {
  marking.wear = draw_wear(random, tier, age, middle_of(marking.rings));
  marking.ragged_mm = random.between(0.4, 2.0);
  marking.overspray_mm = random.chance(0.5) ? random.between(0.5, 2) : random.between(2, 9);
  marking.coat_mm = random.between(0.15, 0.7);
  marking.texture_shift = random.between(0, 5000);
  if (age != Age::layered) return;
  const bool blue_too = marking.kind == Kind::accessible_symbol || marking.kind == Kind::hatching;
  const std::vector<Colour> others = {Colour::white, Colour::yellow, blue_too ? Colour::blue : Colour::white};
  Colour below = random.chance(0.45) ? marking.coat.colour : random.pick(others);
  CoatPlan older = draw_coat(random, below);
  // it lay in the sun and under tyres before it was painted over
  const float y = older.albedo.luminance();
  older.albedo = mix(older.albedo, {0.5F * y + 0.05F, 0.48F * y + 0.048F, 0.45F * y + 0.045F},
                     static_cast<float>(random.between(0.2, 0.6)));
  marking.older = older;
  if (random.chance(0.7)) {
    marking.older_shift = {random.normal() * 9, random.normal() * 9};
    marking.older_turn = random.normal() * 0.004;
  }
}

}  // namespace lotwear::rendering
