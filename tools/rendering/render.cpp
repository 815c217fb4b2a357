#include "rendering/render.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "policy/policy.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/light.hpp"
#include "rendering/photograph.hpp"
#include "rendering/sheet_on_ground.hpp"
#include "rendering/solids.hpp"
#include "rendering/wear.hpp"

namespace lotwear::rendering {

namespace {

/// CIELAB (CIE 15:2004) of linear sRGB.
std::array<double, 3> lab(Rgb c) {
  const double r = static_cast<double>(c.r), g = static_cast<double>(c.g), b = static_cast<double>(c.b);
  const double x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505, y = 0.2126 * r + 0.7152 * g + 0.0722 * b,
               z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.0890;
  const auto f = [](double t) { return t > 216.0 / 24389 ? std::cbrt(t) : (24389.0 / 27 * t + 16) / 116; };
  return {116 * f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))};
}

double difference(Rgb a, Rgb b) {
  const auto p = lab(a), q = lab(b);
  return std::hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
}

double area_of(const std::vector<GroundRing>& rings) {
  double sum = 0;
  for (const GroundRing& ring : rings)
    sum += area(ring);
  return sum;
}

MarkingTruth truth_of(const MarkingPlan& m, const PavementPlan& pavement, const Counts& n, const WornMarking& worn,
                      const Camera& camera, double whole_mm2) {
  MarkingTruth t;
  t.id = m.id;
  t.kind = m.kind;
  t.colour = m.coat.colour;
  t.surface = pavement.what == Pavement::concrete ? Surface::concrete : Surface::asphalt;
  t.shape = m.shape;
  t.footprint = through_lens(camera, m.rings);
  t.area_m2 = whole_mm2 / 1e6;
  t.length_m = m.length_mm / 1e3;
  t.painted_m2 = n.painted / 1e6;
  t.share_in_frame = share_in_view(m.rings, camera);
  t.area_in_frame_m2 = t.area_m2 * t.share_in_frame;
  if (n.painted > 0) {
    t.remaining = n.top / n.painted;
    // The blue ground of an accessible symbol (MUTCD 2009 Fig. 3B-22 has it as an option) belongs to it: where it shows the
    // symbol is worn, and no coat has let go of another.
    t.older = m.on_field ? 0 : n.older / n.painted;
    t.any_coat = std::min(1.0, t.remaining + t.older);
    t.abraded = n.abraded / n.painted;
    t.flaked = n.flaked / n.painted;
    t.cracked = n.cracked / n.painted;
    t.soiled = n.top > 0 ? n.soiled / n.top : 0;
  }
  if (m.older && t.older > 0.001) t.older_colour = m.older->colour;
  Rgb bare = pavement.albedo;
  if (n.pavement_cells > 0) {
    const auto mean = [&](int k) { return static_cast<float>(n.pavement[k] / n.pavement_cells); };
    bare = {mean(0), mean(1), mean(2)};
  }
  t.faded = std::max(0.0, 1 - difference(worn.coat_now(), bare) / std::max(1.0, difference(m.coat.albedo, bare)));
  t.action = expected_action(t);
  t.near_threshold = near_a_threshold(t);
  // a stripe of a few pixels far away is nothing that anybody would measure from here
  double image_area = 0, image_edge = 0;
  for (const ImageRing& ring : t.footprint)
    image_area += area(ring), image_edge += perimeter(ring);
  const double stripe_px =
      2 * image_area / std::max(1.0, image_edge) * 5040 / std::hypot(camera.width(), camera.height());
  t.count = !m.is_field && t.share_in_frame >= 0.6 && n.painted > 0 && stripe_px >= 10;
  return t;
}

Rgb mean_radiance(const Strip& strip) {
  double sum[3] = {0, 0, 0}, n = 0;
  for (int r = 2; r < strip.rows - 2; r += 3) {
    const Span span = strip.spans[static_cast<std::size_t>(r)];
    const float* row = strip.albedo.ptr<float>(r);
    for (int c = span.from + 2; c < span.to - 2; c += 3, n += 1) {
      for (int k = 0; k < 3; ++k)
        sum[k] += static_cast<double>(row[3 * c + k]);
    }
  }
  if (n == 0) return {0.2F, 0.2F, 0.2F};
  return {static_cast<float>(sum[0] / n), static_cast<float>(sum[1] / n), static_cast<float>(sum[2] / n)};
}

}  // namespace

Action expected_action(const MarkingTruth& t) {
  const Policy policy;
  if (t.flaked >= policy.grind_flaked.value || t.older >= policy.grind_older_coat.value)
    return Action::grind_and_repaint;
  if (t.remaining < policy.repaint_below.value || t.faded > policy.repaint_faded.value) return Action::repaint;
  return Action::no_action;
}

bool near_a_threshold(const MarkingTruth& t) {
  const Policy policy;
  const auto near = [](double value, Fraction threshold) { return std::abs(value - threshold.value) < 0.03; };
  const bool grind_near =
      near(t.flaked, policy.grind_flaked) || (t.older_colour && near(t.older, policy.grind_older_coat));
  const bool repaint_near = near(t.remaining, policy.repaint_below) || near(t.faded, policy.repaint_faded);
  const bool surely_grind =
      t.flaked >= policy.grind_flaked.value + 0.03 || t.older >= policy.grind_older_coat.value + 0.03;
  if (surely_grind) return false;
  if (grind_near) return true;
  const bool surely_repaint =
      t.remaining < policy.repaint_below.value - 0.03 || t.faded > policy.repaint_faded.value + 0.03;
  return !surely_repaint && repaint_near;
}

Rendered render(const ScenePlan& plan, Layers layers) {
  const Camera camera(plan.camera);
  const double far_mm = std::min(plan.ground_ends_mm, 12500.0);
  std::vector<Strip> strips = strips_for(camera, far_mm);

  std::vector<WornMarking> worn;
  worn.reserve(plan.markings.size());
  std::vector<double> whole;
  for (std::size_t i = 0; i < plan.markings.size(); ++i) {
    const bool field = plan.markings[i].is_field && i + 1 < plan.markings.size();
    const std::vector<GroundRing> cut = field ? plan.markings[i + 1].rings : std::vector<GroundRing>{};
    worn.emplace_back(plan.markings[i], plan.pavement, cut);
    whole.push_back(area_of(plan.markings[i].rings) - area_of(cut));
  }
  std::vector<Counts> counts(plan.markings.size());
  const ShadowMap shadows = cast_shadows(plan.light, visible_ground(camera, far_mm, 0.1));
  for (Strip& strip : strips) {
    lay_pavement(strip, plan.pavement);
    if (layers == Layers::drawn) {
      for (cv::Mat* shares : {&strip.coats, &strip.losses})
        *shares = cv::Mat::zeros(strip.rows, strip.cols, CV_32FC3);
    }
    for (std::size_t i = 0; i < worn.size(); ++i)
      worn[i].paint(strip, counts[i]);
    cover_pavement(strip, plan.pavement);
    if (plan.sheet) lay_sheet(strip, *plan.sheet);
    light_up(strip, plan.light, shadows, plan.camera);
    for (cv::Mat* done : {&strip.height, &strip.rank, &strip.crack, &strip.film, &strip.tyre, &strip.wet})
      done->release();
  }

  Rendered made;
  SceneTruth& truth = made.truth;
  truth.photo = plan.name + ".jpg";
  truth.tier = plan.tier;
  truth.seed = plan.seed;
  truth.width = plan.camera.width;
  truth.height = plan.camera.height;
  truth.ground_from_image = camera.ground_from_image();
  truth.distortion = plan.camera.distortion;
  truth.focal_px = plan.camera.focal_px;
  truth.tilt_deg = plan.camera.tilt_deg;
  truth.stand_mm = plan.camera.stand_mm;
  truth.sheet = plan.sheet.has_value();
  for (std::size_t i = 0; i < plan.markings.size(); ++i) {
    truth.markings.push_back(truth_of(plan.markings[i], plan.pavement, counts[i], worn[i], camera, whole[i]));
  }
  const Rgb far_ground = strips.empty() ? Rgb{0.2F, 0.2F, 0.2F} : mean_radiance(strips.back());
  cv::Mat seen = look(camera, strips, plan, far_mm, far_ground);
  if (layers == Layers::drawn) made.layers = see_layers(camera, strips, plan, far_mm);
  strips.clear();
  paint_solids(seen, camera, plan);
  made.photo = photo_file(develop(seen, plan.camera, plan.seed), plan);
  return made;
}

}  // namespace lotwear::rendering
