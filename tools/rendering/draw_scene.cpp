#include <fmt/format.h>

#include <cmath>

#include "rendering/draw_parts.hpp"
#include "rendering/sheet_on_ground.hpp"
#include "rendering/solids.hpp"

namespace lotwear::rendering {

namespace {

std::string time_of(std::uint64_t seed, int seconds) {
  const int day = 1 + static_cast<int>(seed % 28),
            at = 8 * 3600 + static_cast<int>((seed * 7919) % (9 * 3600)) + seconds;
  return fmt::format("2026:04:{:02} {:02}:{:02}:{:02}", day, at / 3600, at / 60 % 60, at % 60);
}

}  // namespace

ScenePlan draw_scene(Tier tier, std::uint64_t seed, double megapixels, const std::vector<Shape>& shapes) {
  return draw_requested(tier, seed, megapixels, shapes, {});
}

ScenePlan draw_requested(Tier tier, std::uint64_t seed, double megapixels, const std::vector<Shape>& shapes,
                         const Request& request) {
  const Random base = Random(seed).part(static_cast<std::uint64_t>(tier));
  ScenePlan scene;
  scene.tier = tier;
  scene.seed = seed;
  scene.name = fmt::format("{}-{:05}", kTierWords[static_cast<std::size_t>(tier)], seed);
  Random camera_random = base.part(1), pavement_random = base.part(2), marking_random = base.part(3),
         thing_random = base.part(4), light_random = base.part(5), sheet_random = base.part(6),
         sensor_random = base.part(7);
  scene.camera = draw_camera(camera_random, tier, megapixels);
  draw_markings(marking_random, tier, shapes, request, scene);
  scene.pavement = draw_pavement(pavement_random, tier, request.pavement);
  const GroundPoint about = scene.markings.empty() ? GroundPoint{0, -800} : middle_of(scene.markings[0].rings);
  const double reach = 900 + 0.6 * length(about);
  draw_things(thing_random, tier, about, reach, shapes, scene.pavement);
  scene.light = draw_light(light_random, tier, scene.camera, about, reach, request.sun_turn);
  draw_development(sensor_random, tier, scene.light, scene.camera);
  const bool sheet = sheet_random.chance(0.35);
  if (request.sheet.value_or(sheet)) scene.sheet = place_sheet(sheet_random, scene);
  scene.backdrop = static_cast<Backdrop>(sheet_random.whole(0, 2));
  scene.backdrop_deg = sheet_random.between(4, 30);
  scene.backdrop_colour = scene.backdrop == Backdrop::wall
                              ? Rgb{0.34F, 0.30F, 0.25F} * static_cast<float>(sheet_random.between(0.5, 1.5))
                              : Rgb{0.045F, 0.07F, 0.025F} * static_cast<float>(sheet_random.between(0.5, 1.6));
  scene.ground_ends_mm = sheet_random.between(7000, 16000);
  for (const MarkingPlan& m : scene.markings) {
    for (const GroundRing& ring : m.rings) {
      for (const GroundPoint& p : ring)
        scene.ground_ends_mm = std::max(scene.ground_ends_mm, length(p) + 400);
    }
  }
  Random solid_random = base.part(8);
  draw_solids(solid_random, tier, scene);
  scene.taken = time_of(seed, 0);
  // an invented lot in the middle of an ocean
  scene.lat = 12.4 + sheet_random.between(-1e-3, 1e-3);
  scene.lon = -38.9 + sheet_random.between(-1e-3, 1e-3);
  return scene;
}

}  // namespace lotwear::rendering
