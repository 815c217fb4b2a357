// The demo's lot: one morning, one invented site, every kind of marking and of wear.

#include <fmt/format.h>

#include <cmath>

#include "rendering/draw_parts.hpp"

namespace lotwear::rendering {

namespace {

struct Stop {
  GroupKind group;
  const char* shape;
  Pavement pavement;
  Colour colour;
  Age age;
  bool sheet;
  bool field = false;
  bool again = false;  ///< taken a second time from another place
};

const std::vector<Stop>& stops() {
  using enum GroupKind;
  using enum Pavement;
  using enum Colour;
  using enum Age;
  static const std::vector<Stop> all = {
      {arrow, "arrow-straight", asphalt, white, abraded, true},
      {arrow, "arrow-left-curved", asphalt, white, flaking, false},
      {two_arrows, "arrow-straight-right-square", asphalt, white, fresh, false, false, true},
      {stall_lines, "", asphalt, white, Age::faded, false},
      {stall_lines, "", sealcoat, yellow, abraded, true},
      {stop, "", asphalt, white, layered, true},
      {words, "STOP", asphalt, white, flaking, false},
      {crosswalk, "crosswalk-bars", asphalt, white, abraded, true},
      {crosswalk, "crosswalk-ladder", concrete, white, Age::cracked, false},
      {accessible_stall, "accessible-seated", sealcoat, white, fresh, true, true},
      {accessible_stall, "accessible-seated", concrete, blue, flaking, true},
      {aisle, "", asphalt, yellow, abraded, false},
      {arrow, "arrow-left-right-curved", concrete, yellow, layered, false},
      {arrow, "arrow-straight-left-curved", concrete, yellow, flaking, true, false, true},
      {stall_lines, "", concrete, yellow, Age::cracked, false},
      {GroupKind::yield, "", asphalt, white, abraded, false},
      {arrow, "arrow-right-square", sealcoat, yellow, Age::faded, true},
      {curb, "", concrete, red, fresh, false},
  };
  return all;
}

}  // namespace

CameraPlan step_aside(Random& random, const CameraPlan& first, const MarkingPlan& seen) {
  for (int round = 0; round < 200; ++round) {
    CameraPlan c = first;
    c.stand = {random.between(-700, 700), random.between(-500, 500)};
    c.heading_deg = random.between(-14, 14);
    c.tilt_deg = first.tilt_deg + random.between(-8, 8);
    c.stand_mm = first.stand_mm + random.between(-60, 60);
    c.roll_deg = 2 * random.normal();
    if (length(c.stand) > 350 && share_in_view(seen.rings, Camera(c)) > 0.97) return c;
  }
  return first;
}

ScenePlan draw_again(const ScenePlan& scene) {
  Random random = Random(scene.seed).part(78).part(static_cast<std::uint64_t>(scene.tier));
  ScenePlan again = scene;
  again.name += "-again";
  if (!scene.markings.empty()) again.camera = step_aside(random, scene.camera, scene.markings[0]);
  const int second = std::stoi(scene.taken.substr(scene.taken.size() - 2));
  again.taken.replace(again.taken.size() - 2, 2, fmt::format("{:02}", std::min(59, second + random.whole(3, 9))));
  return again;
}

std::vector<ScenePlan> draw_walk(std::uint64_t seed, double megapixels, const std::vector<Shape>& shapes) {
  Random random = Random(seed).part(77);
  std::vector<ScenePlan> plans;
  int seconds = 9 * 3600 + 2 * 60;
  double lat = 12.4, lon = -38.9;  // in the middle of an ocean
  const auto add = [&](ScenePlan scene) {
    scene.name = fmt::format("IMG_{:04}", 412 + plans.size());
    scene.taken = fmt::format("2026:04:11 {:02}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60);
    scene.lat = lat;
    scene.lon = lon;
    plans.push_back(scene);
  };
  for (const Stop& stop : stops()) {
    Request request;
    request.wanted = {stop.group, stop.shape, stop.colour, stop.field};
    request.age = stop.age;
    request.pavement = stop.pavement;
    request.sheet = stop.sheet;
    request.sun_turn = 0.7;
    request.whole = true;
    request.alone = true;
    const Tier tier = random.chance(0.5) ? Tier::clear : Tier::plain;
    ScenePlan scene = draw_requested(tier, random.bits() >> 20, megapixels, shapes, request);
    seconds += random.whole(14, 55);
    lat += random.between(2e-5, 8e-5);
    lon += random.between(-4e-5, 8e-5);
    add(scene);
    if (!stop.again) continue;
    scene.camera = step_aside(random, scene.camera, scene.markings[0]);
    seconds += random.whole(3, 6);
    add(scene);
  }
  return plans;
}

}  // namespace lotwear::rendering
