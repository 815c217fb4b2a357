#include "rendering/rubble.hpp"

#include <algorithm>
#include <cmath>

#include "rendering/draw_parts.hpp"
#include "rendering/ramp.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

constexpr double kEverywhere = 1e6;

float grey_share(Random& random, double low, double high) {
  return static_cast<float>(std::exp(random.between(std::log(low), std::log(high))));
}

Rgb toned(Random& random, double low, double high, double warmest) {
  const float grey = grey_share(random, low, high), warm = static_cast<float>(random.between(-0.02, warmest));
  return {grey * (1 + warm), grey, grey * (1 - 1.2F * warm)};
}

std::vector<GroundPoint> painted_on(const ScenePlan& scene) {
  std::vector<GroundPoint> all;
  for (const MarkingPlan& m : scene.markings) {
    const std::vector<GroundPoint> points = points_inside(m.rings, 300);
    all.insert(all.end(), points.begin(), points.end());
  }
  return all;
}

/// Asphalt that has lost its binder: pale stones, loose or still held, in what is left of it.
Rubble crumbled(Random& random) {
  Rubble r;
  r.radius_mm = std::exp(random.between(std::log(100.0), std::log(1800.0)));
  r.ragged = random.between(0.2, 0.8);
  r.stone_mm = std::exp(random.between(std::log(8.0), std::log(60.0)));
  r.covered = random.between(0.2, 0.85);
  r.stone_contrast = random.between(0.2, 0.9);
  r.relief_mm = random.between(1, 7);
  r.stones = toned(random, 0.08, 0.45, 0.12);
  r.between = toned(random, 0.03, 0.2, 0.25);
  return r;
}

/// Pale mortar in which stones show, or the other way round, all over the lot.
Rubble exposed_stones(Random& random) {
  Rubble r = crumbled(random);
  r.radius_mm = kEverywhere;
  r.stone_mm = random.between(8, 45);
  r.relief_mm = random.between(0.3, 2);
  if (random.chance(0.6)) {
    r.stones = toned(random, 0.05, 0.16, 0.08);
    r.between = toned(random, 0.2, 0.42, 0.12);
    r.covered = random.between(0.15, 0.6);
  }
  return r;
}

void add_where_bare(Random& random, ScenePlan& scene, const std::vector<GroundPoint>& painted, double least_mm,
                    double most_mm) {
  const Camera camera(scene.camera);
  for (int tries = 0; tries < 8; ++tries) {
    Rubble r = crumbled(random);
    const auto at =
        camera.ground_at({camera.width() * random.between(-0.2, 1.2), camera.height() * random.between(0.1, 1.1)});
    if (!at || length(*at) > 9000) continue;
    r.at = *at;
    r.radius_mm = std::clamp(r.radius_mm, least_mm, most_mm);
    // its outline frays by half as much again
    const double clear = 1.6 * r.radius_mm;
    if (std::any_of(painted.begin(), painted.end(), [&](GroundPoint p) { return length(p - r.at) < clear; })) continue;
    scene.pavement.rubble.push_back(r);
    return;
  }
}

}  // namespace

void lay_rubble(Strip& strip, const PavementPlan& plan) {
  const StoneTile& stones = tiles().stones;
  int which = 50;
  for (const Rubble& rubble : plan.rubble) {
    const auto bays = static_cast<double>(std::min(rubble.radius_mm, 2000.0));
    const CoarseField shore(strip, plan, 0.9 * bays, 0.9 * bays, which), frayed(strip, plan, 70, 70, which + 1);
    which += 2;
    const float k = StoneTile::kStone / static_cast<float>(rubble.stone_mm), ragged = static_cast<float>(rubble.ragged),
                bare = 1 - static_cast<float>(rubble.covered), contrast = static_cast<float>(rubble.stone_contrast),
                relief = static_cast<float>(rubble.relief_mm);
    for (int r = 0; r < strip.rows; ++r) {
      const double y = strip.y_at(r);
      auto* albedo = strip.albedo.ptr<cv::Vec3f>(r);
      auto *height = strip.height.ptr<float>(r), *rank = strip.rank.ptr<float>(r);
      const Span& span = strip.spans[static_cast<std::size_t>(r)];
      for (int c = span.from; c < span.to; ++c) {
        const GroundPoint p{strip.x_at(c), y};
        const auto out = static_cast<float>(length(p - rubble.at) / rubble.radius_mm);
        if (out > 1 + 2 * ragged) continue;
        const float inside = ramp(1, 0.96F, out + ragged * (0.4F * shore(r, c) + 0.12F * frayed(r, c)));
        if (inside <= 0) continue;
        const StoneTile::Spot spot = stones(static_cast<float>(p.x + plan.shift.x) * k, static_cast<float>(p.y) * k);
        const float top = ramp(bare - 0.1F, bare + 0.1F, spot.rank);
        const Rgb there = mix(rubble.between * (0.7F + 0.5F * spot.rank),
                              rubble.stones * std::max(0.15F, 1 + contrast * spot.tone), top);
        albedo[c] += inside * (cv::Vec3f(there.r, there.g, there.b) - albedo[c]);
        height[c] += inside * (relief * (std::sqrt(spot.rank) - 1) - height[c]);
        rank[c] += inside * (spot.rank - rank[c]);
      }
    }
  }
}

void draw_rubble(Random& random, ScenePlan& scene) {
  const std::vector<GroundPoint> painted = painted_on(scene);
  if (random.chance(0.15)) scene.pavement.rubble.push_back(exposed_stones(random));
  if (random.chance(0.2)) add_where_bare(random, scene, painted, 2500, 6000);
  for (int wanted = random.chance(0.6) ? random.whole(1, 6) : 0; wanted > 0; --wanted)
    add_where_bare(random, scene, painted, 60, 1800);
}

}  // namespace lotwear::rendering
