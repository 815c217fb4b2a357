#include <algorithm>
#include <cmath>

#include "rendering/draw_parts.hpp"

namespace lotwear::rendering {

namespace {

constexpr double kTurn = 2 * std::numbers::pi;

GroundPoint near(Random& random, GroundPoint about, double reach) {
  return {about.x + random.between(-reach, reach), about.y + random.between(-reach, reach)};
}

Track wander(Random& random, GroundPoint from, double turn, double length_mm, double width_mm, double restless) {
  Track track{{from}, width_mm, 1};
  double at = turn;
  for (double run = 0; run < length_mm;) {
    const double step = random.between(15, 60);
    at += restless * random.normal();
    at += 0.25 * (turn - at);
    const GroundPoint last = track.points.back();
    track.points.push_back({last.x + step * std::cos(at), last.y + step * std::sin(at)});
    run += step;
  }
  // what looks straight from afar is not so from near
  for (int round = 0; round < 2; ++round) {
    std::vector<GroundPoint> finer;
    for (std::size_t i = 0; i + 1 < track.points.size(); ++i) {
      const GroundPoint a = track.points[i], d = track.points[i + 1] - a;
      const double off = 0.13 * random.normal();
      finer.push_back(a);
      finer.push_back(a + d * random.between(0.35, 0.65) + GroundPoint{-d.y, d.x} * off);
    }
    finer.push_back(track.points.back());
    track.points = finer;
  }
  return track;
}

void draw_cracks(Random& random, int count, GroundPoint about, double reach, PavementPlan& pavement) {
  for (int i = 0; i < count; ++i) {
    const double turn = random.between(0, kTurn), width = std::exp(random.between(std::log(1.2), std::log(8.0)));
    const GroundPoint on = near(random, about, 0.6 * reach);
    const GroundPoint from{on.x - 1.2 * reach * std::cos(turn), on.y - 1.2 * reach * std::sin(turn)};
    const Track main = wander(random, from, turn, random.between(1.0, 2.4) * reach, width, 0.45);
    const bool sealed = pavement.what != Pavement::concrete && random.chance(0.25);
    if (sealed) {
      Track ribbon = main;
      ribbon.width_mm = random.between(25, 70);
      ribbon.strength = random.between(0.6, 1.0);
      pavement.sealant.push_back(ribbon);
      continue;
    }
    pavement.cracks.push_back(main);
    const int branches = random.whole(0, 4);
    for (int b = 0; b < branches; ++b) {
      const GroundPoint start = random.pick(main.points);
      pavement.cracks.push_back(wander(random, start, turn + random.sign() * random.between(0.5, 1.4),
                                       random.between(100, 800), width * random.between(0.3, 0.8), 0.5));
    }
  }
}

Rgb leaf_colour(Random& random) {
  const std::vector<Rgb> colours = {{0.22F, 0.10F, 0.03F}, {0.34F, 0.19F, 0.04F}, {0.12F, 0.07F, 0.03F},
                                    {0.40F, 0.30F, 0.06F}, {0.08F, 0.12F, 0.03F}, {0.25F, 0.05F, 0.02F}};
  return random.pick(colours) * static_cast<float>(random.between(0.7, 1.3));
}

}  // namespace

PavementPlan draw_pavement(Random& random, Tier tier, std::optional<Pavement> wanted) {
  PavementPlan p;
  p.turn = random.between(0, kTurn);
  p.shift = {random.between(0, 9e3), random.between(0, 9e3)};
  const std::size_t what = random.weighted({0.58, 0.15, 0.27});
  p.what = wanted.value_or(static_cast<Pavement>(what));
  if (p.what == Pavement::asphalt) {
    const double old = random.share();  // 0 fresh and black .. 1 old and pale
    const float grey = static_cast<float>(0.042 + 0.15 * old * std::sqrt(old) + 0.03 * random.share());
    const float warm = static_cast<float>(random.between(-0.03, 0.10) * (0.3 + old));
    p.albedo = {grey * (1 + warm), grey, grey * (1 - warm)};
    p.stone_mm = random.chance(0.5) ? random.between(4, 8) : random.between(8, 14);
    p.stone_contrast = (0.12 + 0.55 * old) * random.between(0.7, 1.3);
    p.relief_mm = random.between(0.5, 1.7) * (p.stone_mm > 8 ? 1.2 : 0.8);
    p.mottle = random.between(0.03, 0.14);
    p.warmth = random.between(0.0, 0.08);
  } else if (p.what == Pavement::sealcoat) {
    const float grey = static_cast<float>(random.between(0.034, 0.075));
    p.albedo = {grey, grey, grey * 1.03F};
    p.stone_mm = random.between(2.2, 4);
    p.stone_contrast = random.between(0.05, 0.25);
    p.relief_mm = random.between(0.2, 0.6);
    p.mottle = random.between(0.08, 0.22);
  } else {
    const float grey = static_cast<float>(random.between(0.17, 0.46));
    const float warm = static_cast<float>(random.between(0.0, 0.09));
    p.albedo = {grey * (1 + warm), grey, grey * (1 - 1.3F * warm)};
    p.stone_mm = random.between(3, 6);
    p.stone_contrast = random.between(0.5, 1.3);
    p.broom = random.chance(0.25) ? 0 : random.between(0.2, 1.0);
    p.relief_mm = random.between(0.12, 0.4);
    p.mottle = random.between(0.05, 0.16);
    if (random.chance(0.75)) p.joint_mm = random.between(1500, 4500);
    p.joint_at = {random.between(0, 4000), random.between(0, 4000)};
  }
  p.soil = tier == Tier::clear   ? random.between(0, 0.12)
           : tier == Tier::plain ? random.between(0, 0.3)
                                 : random.between(0.1, 0.75);
  if (random.chance(0.4)) p.soil *= 0.3;
  return p;
}

void draw_things(Random& random, Tier tier, GroundPoint about, double reach, const std::vector<Shape>& shapes,
                 PavementPlan& pavement) {
  const int level = static_cast<int>(tier);
  draw_cracks(random, random.chance(0.5) ? 0 : random.whole(1, 2 + 2 * level), about, reach, pavement);
  if (random.chance(0.15 + 0.1 * level)) {
    const double w = random.between(400, 1800), h = random.between(400, 2500), turn = random.between(0, kTurn);
    pavement.patches.push_back(
        placed({{{-w, -h}, {w, -h}, {w, h}, {-w, h}}}, turn, near(random, about, 1.3 * reach))[0]);
    pavement.patch_tones.push_back(random.chance(0.7) ? random.between(0.45, 0.85) : random.between(1.1, 1.4));
  }
  const int ghosts = random.chance(0.25 + 0.1 * level) ? random.whole(1, 2) : 0;
  for (int i = 0; i < ghosts; ++i) {
    const std::vector<std::string> names = {"line", "line", "arrow-straight", "arrow-left-curved", "stop-line"};
    const Shape& shape = shape_named(shapes, random.pick(names));
    const double length = random.between(shape.low_length_mm, std::min(shape.usual_length_mm, 4000.0));
    pavement.ghosts.push_back(
        {placed(outline(shape, length, usual_values(shape)), random.between(0, kTurn), near(random, about, reach)),
         random.sign() * random.between(0.08, 0.28)});
  }
  const int oil = random.chance(0.5) ? random.whole(1, 3 + 3 * level) : 0;
  for (int i = 0; i < oil; ++i) {
    pavement.oil.push_back({near(random, about, reach), std::exp(random.between(std::log(12.0), std::log(220.0))),
                            random.between(0.25, 0.85)});
  }
  const int leaves = tier == Tier::clear  ? random.whole(0, 4)
                     : random.chance(0.6) ? random.whole(3, 30 + 40 * level)
                                          : 2;
  for (int i = 0; i < leaves; ++i) {
    Leaf leaf{near(random, about, 1.4 * reach), random.between(25, 95), random.between(0, kTurn), leaf_colour(random),
              false};
    leaf.twig = random.chance(0.12);
    pavement.leaves.push_back(leaf);
  }
  if (tier != Tier::clear && random.chance(tier == Tier::hard ? 0.55 : 0.15)) {
    const double turn = random.between(0, kTurn);
    const GroundPoint at = near(random, about, 0.6 * reach);
    for (int i = 0; i < random.whole(1, 3); ++i) {
      Track mark{{}, random.between(130, 230), random.between(0.25, 0.75)};
      const double off = i * random.between(1350, 1650) + random.between(-60, 60), bend = random.between(-2e-4, 2e-4);
      for (double t = -6000; t < 6000; t += 150) {
        const GroundPoint p{t, off + bend * t * t};
        mark.points.push_back(
            {at.x + std::cos(turn) * p.x - std::sin(turn) * p.y, at.y + std::sin(turn) * p.x + std::cos(turn) * p.y});
      }
      pavement.tyre_marks.push_back(mark);
    }
  }
  if (tier == Tier::hard && random.chance(0.3)) {
    for (int i = 0; i < random.whole(1, 4); ++i) {
      pavement.wet.push_back({near(random, about, reach), random.between(150, 1100), random.between(0.5, 1.0)});
    }
  }
}

namespace {

std::vector<GroundRing> person_shadow(double sun_turn, double sun_height_deg, double tall) {
  const double reach = 1 / std::tan(sun_height_deg * std::numbers::pi / 180), away = sun_turn + std::numbers::pi;
  const GroundPoint out{std::cos(away), std::sin(away)}, side{-out.y, out.x};
  const auto at = [&](double across, double up) { return out * (up * reach) + side * across + GroundPoint{0, 150}; };
  GroundRing body = {
      at(-170, 0),         at(-200, 0.45 * tall), at(-250, 0.78 * tall), at(-120, 0.84 * tall), at(-60, 0.86 * tall),
      at(60, 0.86 * tall), at(120, 0.84 * tall),  at(250, 0.78 * tall),  at(330, 0.66 * tall),  at(200, 0.45 * tall),
      at(170, 0)};
  GroundRing head;
  for (int i = 0; i < 20; ++i) {
    const double angle = kTurn * i / 20;
    head.push_back(at(85 * std::cos(angle), 0.93 * tall + 0.075 * tall * std::sin(angle)));
  }
  return {body, head};
}

Caster draw_caster(Random& random, const LightPlan& light, GroundPoint about, double reach, double tall) {
  const double away = light.sun_turn + std::numbers::pi;
  const GroundPoint at = near(random, about, 0.8 * reach);
  switch (random.weighted({0.35, 0.25, 0.25, 0.15})) {
    case 0: {  // a pole
      const double half = random.between(30, 110);
      return {placed({{{-9000, -half}, {9000, -half}, {9000, half}, {-9000, half}}}, away, at), random.between(4, 22),
              0.97};
    }
    case 1:
      return {person_shadow(light.sun_turn, light.sun_height_deg, tall), random.between(6, 22), 0.98};
    case 2: {  // a car: a long box with a rounded cabin
      const GroundRing car = {{-2300, 0},   {-2250, -500}, {-1500, -620}, {-900, -1150}, {600, -1180},
                              {1250, -660}, {2200, -560},  {2300, -100},  {2300, 2500},  {-2300, 2500}};
      return {placed({car}, random.between(0, kTurn), near(random, about, 1.6 * reach)), random.between(10, 35), 0.97};
    }
    default: {  // a building or a fence: everything on one side
      return {placed({{{0, -20000}, {20000, -20000}, {20000, 20000}, {0, 20000}}}, random.between(0, kTurn), at),
              random.between(8, 50), 0.96};
    }
  }
}

}  // namespace

LightPlan draw_light(Random& random, Tier tier, const CameraPlan& camera, GroundPoint about, double reach,
                     std::optional<double> sun_turn) {
  LightPlan light;
  const double drawn_turn = random.between(0, kTurn);
  light.sun_turn = sun_turn.value_or(drawn_turn);
  light.sun_height_deg = random.between(24, 66);
  const bool overcast = random.chance(tier == Tier::clear ? 0.45 : tier == Tier::plain ? 0.12 : 0.08);
  if (overcast) {
    light.sun = random.between(0.05, 0.25);
    light.sky = 1;
    light.sky_colour = {0.97F, 1, 1.05F};
  } else {
    light.sun = 1;
    light.sky = random.between(0.2, 0.5);
    const float warm = static_cast<float>((66 - light.sun_height_deg) / 42 * 0.12);
    light.sun_colour = {1 + warm, 1, 0.95F - 1.5F * warm};
    light.sky_colour = {0.88F, 0.97F, static_cast<float>(random.between(1.08, 1.32))};
  }
  light.gradient = random.between(0, tier == Tier::clear ? 0.12 : 0.3);
  light.gradient_turn = random.between(0, kTurn);
  if (tier == Tier::clear || overcast) return light;
  const double tall = camera.stand_mm + 140;
  const int casters = tier == Tier::plain ? random.whole(0, 2) : random.whole(0, 3);
  for (int i = 0; i < casters; ++i)
    light.casters.push_back(draw_caster(random, light, about, reach, tall));
  if (tier == Tier::hard && random.chance(0.62)) {
    light.foliage = random.between(0.3, 0.72);
    light.foliage_leaf_mm = random.between(35, 110);
    light.foliage_penumbra_mm = random.between(22, 85);
    light.foliage_at = near(random, about, reach);
    light.foliage_reach_mm = random.chance(0.5) ? random.between(900, 2600) : 0;
  }
  return light;
}

}  // namespace lotwear::rendering
