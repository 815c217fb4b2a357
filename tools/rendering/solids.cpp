#include "rendering/solids.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/shapes_parts.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

constexpr double kTurn = 2 * std::numbers::pi;

GroundPoint out_of(const SolidPart& part, const Solid& solid, GroundPoint p) {
  const GroundPoint q = p + part.at;
  const double c = std::cos(solid.turn), s = std::sin(solid.turn);
  return {solid.at.x + c * q.x - s * q.y, solid.at.y + s * q.x + c * q.y};
}

/// Foot and top rings of a part on the ground plan.
struct Prism {
  GroundRing foot, top;
};
Prism prism_of(const SolidPart& part, const Solid& solid) {
  Prism prism;
  for (const GroundPoint& p : part.foot) {
    prism.foot.push_back(out_of(part, solid, p));
    prism.top.push_back(out_of(part, solid, p * part.taper));
  }
  return prism;
}

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

/// A flat face in the photo, and where its corners lie on the solid, in millimetres: its look clings to it.
struct Face {
  std::vector<cv::Point2f> corners, on_solid;  ///< four or more
};

/// Photo -> solid, by four corners spread around the face.
cv::Matx33d map_of(const Face& face) {
  std::vector<cv::Point2f> from, to;
  for (std::size_t k = 0; k < 4; ++k) {
    const std::size_t i = k * face.corners.size() / 4;
    from.push_back(face.corners[i]);
    to.push_back(face.on_solid[i]);
  }
  return cv::getPerspectiveTransform(from, to);
}

/// Millimetres in units of a texture's own size; a face seen edge-on has no map, and no look.
float in_units(double mm, double of) { return std::abs(mm) < 1e6 ? static_cast<float>(mm / of) : 0; }

void fill_face(cv::Mat& radiance, const Face& face, Rgb colour, const Unevenness& uneven) {
  cv::Rect around = cv::boundingRect(face.corners);
  around =
      cv::Rect(around.x - 1, around.y - 1, around.width + 2, around.height + 2) & cv::Rect({0, 0}, radiance.size());
  if (around.empty()) return;
  cv::Mat mask = cv::Mat::zeros(around.size(), CV_8U);
  std::vector<cv::Point> points;
  for (const cv::Point2f& p : face.corners) {
    points.emplace_back(
        static_cast<int>(std::lround(static_cast<double>(p.x - static_cast<float>(around.x)) * 16 - 8)),
        static_cast<int>(std::lround(static_cast<double>(p.y - static_cast<float>(around.y)) * 16 - 8)));
  }
  cv::fillConvexPoly(mask, points, 255, cv::LINE_8, 4);
  const cv::Matx33d to_solid = map_of(face);
  const Tiles& all = tiles();
  for (int r = 0; r < mask.rows; ++r) {
    const auto* in = mask.ptr<unsigned char>(r);
    auto* row = radiance.ptr<cv::Vec3f>(r + around.y) + around.x;
    for (int c = 0; c < mask.cols; ++c) {
      if (in[c] == 0) continue;
      const cv::Vec3d at = to_solid * cv::Vec3d(c + around.x + 0.5, r + around.y + 0.5, 1);
      const double x = at[0] / at[2], y = at[1] / at[2];
      const double texel = uneven.grain_mm / StoneTile::kStone;
      const double clouds = static_cast<double>(all.soft(in_units(x, uneven.clouds_mm), in_units(y, uneven.clouds_mm)));
      const double grain = static_cast<double>(all.stones(in_units(x, texel), in_units(y, texel)).rank) - 0.5;
      const auto gain = static_cast<float>(std::exp(-uneven.clouds * std::abs(clouds) + uneven.grain * grain));
      row[c] = {colour.r * gain, colour.g * gain, colour.b * gain};
    }
  }
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
  set_down(random, scene, wanted, 0.8, {0.35, 0.15, 0.15, 0.35});
}

void draw_look_alikes(Random& random, ScenePlan& scene) {
  const int wanted = random.whole(1, 5);
  set_down(random, scene, wanted, 1, {0.3, 0.04, 0.03, 0.13, 0.5});
}

void paint_solids(cv::Mat& radiance, const Camera& camera, const ScenePlan& scene) {
  const LightPlan& light = scene.light;
  const double height = light.sun_height_deg * shape_parts::kRadiansPerDegree;
  std::vector<Solid> solids = scene.solids;
  std::sort(solids.begin(), solids.end(), [&](const Solid& a, const Solid& b) {
    return length(a.at - camera.stand()) > length(b.at - camera.stand());
  });
  for (const Solid& solid : solids) {
    for (const SolidPart& part : solid.parts) {
      const Prism prism = prism_of(part, solid);
      const std::size_t n = prism.foot.size();
      const auto lit = [&](double facing) {
        const float sun = static_cast<float>(light.sun * std::max(0.0, facing) / std::sin(height)),
                    sky = static_cast<float>(0.75 * light.sky);
        return Rgb{part.colour.r * (sun * light.sun_colour.r + sky * light.sky_colour.r),
                   part.colour.g * (sun * light.sun_colour.g + sky * light.sky_colour.g),
                   part.colour.b * (sun * light.sun_colour.b + sky * light.sky_colour.b)};
      };
      Face top;
      const auto point = [](const ImagePoint& v) {
        return cv::Point2f(static_cast<float>(v.x), static_cast<float>(v.y));
      };
      for (std::size_t i = 0; i < n; ++i) {
        const GroundPoint a = prism.foot[i], b = prism.foot[(i + 1) % n], ta = prism.top[i],
                          tb = prism.top[(i + 1) % n];
        const auto p = camera.see_above(a, part.bottom_mm), q = camera.see_above(b, part.bottom_mm),
                   s = camera.see_above(tb, part.top_mm), t = camera.see_above(ta, part.top_mm);
        if (!p || !q || !s || !t) continue;
        const float wide = static_cast<float>(length(b - a)), tall = static_cast<float>(part.top_mm - part.bottom_mm);
        top.corners.push_back(point(*t));
        top.on_solid.emplace_back(static_cast<float>(part.foot[i].x), static_cast<float>(part.foot[i].y));
        // foot rings run clockwise seen from above with y down, so the outward normal lies to the left
        const GroundPoint along = b - a, out = GroundPoint{along.y, -along.x} * (1 / std::max(1e-6, length(along)));
        if (dot(out, camera.stand() - a) <= 0) continue;
        const double facing = std::cos(height) * (out.x * std::cos(light.sun_turn) + out.y * std::sin(light.sun_turn));
        fill_face(radiance,
                  {{point(*p), point(*q), point(*s), point(*t)}, {{0, 0}, {wide, 0}, {wide, tall}, {0, tall}}},
                  lit(facing), part.uneven);
      }
      if (top.corners.size() >= 4 && part.top_mm < scene.camera.stand_mm)
        fill_face(radiance, top, lit(std::sin(height)), part.uneven);
    }
  }
}

}  // namespace lotwear::rendering
