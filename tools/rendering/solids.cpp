#include "rendering/solids.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/shapes_parts.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/prism.hpp"

namespace lotwear::rendering {

namespace {

constexpr double kTurn = 2 * std::numbers::pi;

GroundRing round_foot(double radius) {
  GroundRing ring = shape_parts::arc({0, 0}, radius, 0, kTurn);
  ring.pop_back();
  return ring;
}
GroundRing box_foot(double length_mm, double width_mm) {
  return shape_parts::bar(-length_mm / 2, -width_mm / 2, length_mm / 2, width_mm / 2);
}

Solid wheel_stop(Random& random) {
  const std::vector<Rgb> colours = {
      {0.36F, 0.35F, 0.32F}, {0.28F, 0.27F, 0.26F}, {0.62F, 0.42F, 0.06F}, {0.04F, 0.04F, 0.04F}};
  return {{{box_foot(random.between(1500, 1900), 150), {}, 0, random.between(95, 130), 0.82, random.pick(colours)}}};
}
Solid bollard(Random& random) {
  const std::vector<Rgb> colours = {
      {0.70F, 0.46F, 0.05F}, {0.72F, 0.72F, 0.70F}, {0.45F, 0.05F, 0.04F}, {0.12F, 0.12F, 0.12F}};
  return {{{round_foot(random.between(55, 90)), {}, 0, random.between(800, 1100), 1, random.pick(colours)}}};
}
Solid cone(Random&) {
  const Rgb orange{0.75F, 0.16F, 0.02F}, white{0.75F, 0.75F, 0.74F};
  return {{{box_foot(360, 360), {}, 0, 30, 1, {0.03F, 0.03F, 0.03F}},
           {round_foot(135), {}, 30, 320, 0.66, orange},
           {round_foot(89), {}, 320, 450, 0.74, white},
           {round_foot(66), {}, 450, 700, 0.4, orange}}};
}
/// A slab, board or box that lies about, in the colours of markings.
Solid low_box(Random& random) {
  const std::vector<Rgb> colours = {{0.74F, 0.74F, 0.72F}, {0.66F, 0.45F, 0.05F}, {0.45F, 0.05F, 0.04F},
                                    {0.05F, 0.12F, 0.38F}, {0.40F, 0.39F, 0.37F}, {0.80F, 0.80F, 0.80F}};
  // lower ones could not be told from paint, and would teach that even paint is a thing
  const double top = std::exp(random.between(std::log(60.0), std::log(400.0)));
  return {{{box_foot(random.between(300, 2400), random.between(100, 700)),
            {},
            0,
            top,
            random.between(0.9, 1),
            random.pick(colours)}}};
}
/// A board of squares that leans on something, is held up or lies about.
Solid board(Random& random) {
  const auto pale = static_cast<float>(random.between(0.4, 0.85)),
             dark = static_cast<float>(random.between(0.02, 0.15));
  Squares squares{random.between(25, 110),
                  random.between(5, 60),
                  random.chance(0.7) ? 1 : random.between(0.4, 0.95),
                  {dark, dark, dark}};
  if (random.chance(0.15)) squares.colour = {random.chance(0.5) ? 0.4F : 0.03F, 0.05F, 0.2F};
  const auto reach = [&] { return 2 * squares.margin_mm + squares.side_mm * random.whole(4, 11); };
  const double wide = reach(), tall = reach(), thick = random.between(3, 25);
  const double bottom = random.chance(0.5) ? 0 : random.between(100, 1100);
  SolidPart part{box_foot(wide, thick), {}, bottom, bottom + tall, 1, {pale, pale, 0.97F * pale}, {}, squares};
  if (random.chance(0.35)) {
    part.foot = box_foot(wide, tall);
    part.bottom_mm = 0, part.top_mm = thick;
  }
  return {{part}};
}
Solid car(Random& random) {
  const std::vector<Rgb> colours = {{0.72F, 0.72F, 0.72F}, {0.03F, 0.03F, 0.035F}, {0.30F, 0.31F, 0.32F},
                                    {0.35F, 0.03F, 0.03F}, {0.04F, 0.08F, 0.22F},  {0.16F, 0.17F, 0.18F}};
  const Rgb body = random.pick(colours), tyre{0.018F, 0.018F, 0.018F}, glass{0.04F, 0.05F, 0.06F};
  Solid made;
  for (const double x : {-1350.0, 1350.0}) {
    for (const double y : {-720.0, 720.0})
      made.parts.push_back({box_foot(600, 210), {x, y}, 0, 560, 0.72, tyre});
  }
  made.parts.push_back({box_foot(4300, 1700), {0, 0}, 230, 780, 0.97, body});
  made.parts.push_back({box_foot(2500, 1600), {150, 0}, 780, 1400, 0.72, glass});
  return made;
}

/// Convex outline of what a solid covers in the photo; empty when a corner cannot be seen.
std::vector<cv::Point2f> cover_of(const Solid& solid, const Camera& camera) {
  std::vector<cv::Point2f> points, hull;
  for (const SolidPart& part : solid.parts) {
    const Prism prism = prism_of(part, solid);
    for (const bool top : {false, true}) {
      for (const GroundPoint& p : top ? prism.top : prism.foot) {
        const auto seen = camera.see_above(p, top ? part.top_mm : part.bottom_mm);
        if (!seen) return {};
        points.emplace_back(static_cast<float>(seen->x), static_cast<float>(seen->y));
      }
    }
  }
  if (points.size() >= 3) cv::convexHull(points, hull);
  return hull;
}

/// A coarse picture of what must stay in sight.
cv::Mat taken_by(const ScenePlan& scene, const Camera& camera, double scale) {
  cv::Mat mask = cv::Mat::zeros(static_cast<int>(camera.height() * scale) + 1,
                                static_cast<int>(camera.width() * scale) + 1, CV_8U);
  const auto add = [&](const GroundRing& ring) {
    std::vector<cv::Point> points;
    for (const GroundPoint& p : ring) {
      if (const auto seen = camera.see(p)) {
        points.emplace_back(static_cast<int>(std::clamp(seen->x * scale, -1e4, 1e4)),
                            static_cast<int>(std::clamp(seen->y * scale, -1e4, 1e4)));
      }
    }
    if (points.size() < 3) return;
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, 255);
    cv::polylines(mask, std::vector<std::vector<cv::Point>>{points}, true, 255, 3);
  };
  for (const MarkingPlan& m : scene.markings) {
    for (const GroundRing& ring : m.rings)
      add(ring);
  }
  if (scene.sheet)
    add(placed({{{-200, -200}, {200, -200}, {200, 200}, {-200, 200}}}, scene.sheet->turn, scene.sheet->at)[0]);
  return mask;
}

bool hides_nothing(const Solid& solid, const Camera& camera, const cv::Mat& taken, double scale) {
  const std::vector<cv::Point2f> cover = cover_of(solid, camera);
  if (cover.empty()) return false;
  std::vector<cv::Point> points;
  bool in_view = false;
  for (const cv::Point2f& p : cover) {
    if (std::abs(p.x) > 3e4F || std::abs(p.y) > 3e4F) return false;
    points.emplace_back(static_cast<int>(static_cast<double>(p.x) * scale),
                        static_cast<int>(static_cast<double>(p.y) * scale));
    in_view = in_view || (points.back().x > 0 && points.back().y > 0 && points.back().x < taken.cols &&
                          points.back().y < taken.rows);
  }
  cv::Mat mine = cv::Mat::zeros(taken.size(), CV_8U);
  cv::fillConvexPoly(mine, points, 255);
  return in_view && cv::countNonZero(mine) < 0.35 * static_cast<double>(taken.total()) &&
         cv::countNonZero(mine & taken) == 0;
}

Caster shadow_of(const Solid& solid, const LightPlan& light) {
  const double reach = 1 / std::tan(light.sun_height_deg * shape_parts::kRadiansPerDegree);
  const GroundPoint away{-std::cos(light.sun_turn) * reach, -std::sin(light.sun_turn) * reach};
  Caster caster;
  for (const SolidPart& part : solid.parts) {
    const Prism prism = prism_of(part, solid);
    std::vector<cv::Point2f> points, hull;
    for (const GroundPoint& p : prism.foot) {
      const GroundPoint q = p + away * part.bottom_mm;
      points.emplace_back(static_cast<float>(q.x), static_cast<float>(q.y));
    }
    for (const GroundPoint& p : prism.top) {
      const GroundPoint q = p + away * part.top_mm;
      points.emplace_back(static_cast<float>(q.x), static_cast<float>(q.y));
    }
    cv::convexHull(points, hull);
    GroundRing ring;
    for (const cv::Point2f& p : hull)
      ring.push_back({static_cast<double>(p.x), static_cast<double>(p.y)});
    caster.rings.push_back(ring);
  }
  caster.penumbra_mm = 9;
  caster.opacity = 0.97;
  return caster;
}

/// Most solids that stand about are soiled and rough; few are as clean and even as glazed ones.
void make_uneven(Random random, Solid& solid) {
  const Unevenness uneven{random.chance(0.2) ? 0 : random.between(0.03, 0.3),
                          std::exp(random.between(std::log(60.0), std::log(900.0))),
                          random.chance(0.3) ? 0 : random.between(0.05, 0.6), random.between(2, 14)};
  for (SolidPart& part : solid.parts)
    part.uneven = uneven;
}

/// Sets solids down where they hide nothing that is to be seen.
void set_down(Random& random, ScenePlan& scene, int wanted, double up_to, const std::vector<double>& weights) {
  const Camera camera(scene.camera);
  const double scale = 400.0 / std::max(camera.width(), camera.height());
  const cv::Mat taken = taken_by(scene, camera, scale);
  const std::size_t before = scene.solids.size();
  for (int tries = 0; tries < 40 && static_cast<int>(scene.solids.size() - before) < wanted; ++tries) {
    Solid solid;
    switch (random.weighted(weights)) {
      case 0:
        solid = wheel_stop(random);
        break;
      case 1:
        solid = bollard(random);
        break;
      case 2:
        solid = cone(random);
        break;
      case 3:
        solid = car(random);
        break;
      case 4:
        solid = board(random);
        break;
      default:
        solid = low_box(random);
        break;
    }
    make_uneven(random.part(static_cast<std::uint64_t>(tries)), solid);
    const auto at =
        camera.ground_at({camera.width() * random.between(-0.1, 1.1), camera.height() * random.between(0.02, up_to)});
    if (!at || length(*at) > 9000) continue;
    solid.at = *at;
    solid.turn = random.between(0, kTurn);
    if (!hides_nothing(solid, camera, taken, scale)) continue;
    scene.solids.push_back(solid);
    if (scene.tier != Tier::clear && scene.light.sun > 0.5)
      scene.light.casters.push_back(shadow_of(solid, scene.light));
  }
}

}  // namespace

void draw_solids(Random& random, Tier tier, ScenePlan& scene) {
  const double likely[] = {0.12, 0.3, 0.4};
  if (!random.chance(likely[static_cast<std::size_t>(tier)])) return;
  const int wanted = random.whole(1, 3);
  set_down(random, scene, wanted, 0.8, {0.35, 0.15, 0.15, 0.35, 0, 0});
}

void draw_look_alikes(Random& random, ScenePlan& scene) {
  const int wanted = random.whole(1, 5);
  set_down(random, scene, wanted, 1, {0.22, 0.03, 0.02, 0.1, 0.25, 0.38});
}

void hold_up_board(Random& random, ScenePlan& scene) {
  const double heading = scene.camera.heading_deg * shape_parts::kRadiansPerDegree, away = random.between(450, 1600);
  const GroundPoint ahead{std::sin(heading), -std::cos(heading)};
  Solid solid = board(random);
  make_uneven(random, solid);
  solid.at = scene.camera.stand + ahead * away + GroundPoint{-ahead.y, ahead.x} * (random.normal() * 0.15 * away);
  solid.turn = heading + 0.4 * random.normal();
  const double over_horizon = (90 - scene.camera.tilt_deg) * shape_parts::kRadiansPerDegree,
               middle = scene.camera.stand_mm - away * std::tan(over_horizon) + 0.12 * away * random.normal();
  SolidPart& part = solid.parts[0];
  const double tall = part.top_mm - part.bottom_mm;
  part.bottom_mm = std::max(0.0, middle - tall / 2);
  part.top_mm = part.bottom_mm + tall;
  scene.solids.push_back(solid);
}

}  // namespace lotwear::rendering
