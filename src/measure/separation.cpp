#include "measure/separation.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <opencv2/imgproc.hpp>
#include <utility>
#include <vector>

#include "measure/appearance.hpp"
#include "measure/coats_seen.hpp"
#include "measure/light_and_paint.hpp"
#include "measure/mixture.hpp"
#include "measure/older_coat.hpp"
#include "measure/paint_axis.hpp"
#include "measure/plan_core.hpp"
#include "measure/sound_paint.hpp"

namespace lotwear {
namespace {

/// The plan's light with most of the photo's blur taken out (van Cittert, two steps).
cv::Mat without_blur(const PlanView& plan, double blur_px) {
  const double sigma = 0.85 * std::hypot(std::clamp(blur_px, 0.4, 2.5), 0.35) * plan.photo_px_mm / plan.mm_per_pixel;
  if (sigma < 0.35) return plan.light;
  cv::Mat soft, sharp;
  cv::GaussianBlur(plan.light, soft, {}, sigma, sigma, cv::BORDER_REPLICATE);
  sharp = 2 * plan.light - soft;
  cv::GaussianBlur(sharp, soft, {}, sigma, sigma, cv::BORDER_REPLICATE);
  sharp += plan.light - soft;
  return cv::max(sharp, 0);
}

/// Share of the core where the map is more than nothing.
double share_of_core(const PlanView& plan, const cv::Mat& map, double core_mm) {
  double all = 0, in = 0;
  for (int r = 0; r < map.rows; ++r) {
    for (int c = 0; c < map.cols; ++c) {
      if (!in_core(plan, r, c, core_mm)) continue;
      all += 1, in += map.at<float>(r, c) > 0 ? 1 : 0;
    }
  }
  return all > 0 ? in / all : 0;
}

/// The plan without the spots where an older coat shows: what is left is top coat and what is bare.
PlanView without_older(const PlanView& plan, const OlderCoat& older) {
  PlanView rest = plan;
  rest.ours = plan.ours.clone();
  rest.ours.setTo(0, older.map > 0);
  return rest;
}

/// Where the pixels of the core and of the pavement beside lie on the axis.
struct OnAxis {
  Histogram inside{-1, 2, kAxisBins}, beside{-1, 2, kAxisBins};
  std::vector<double> off_bare;  ///< distance from 0 of those beside
};
OnAxis along_axis(const PlanView& plan, const cv::Mat& x, double core_mm) {
  OnAxis seen;
  for (int r = 0; r < x.rows; ++r) {
    for (int c = 0; c < x.cols; ++c) {
      const double v = static_cast<double>(x.at<float>(r, c));
      if (in_core(plan, r, c, core_mm))
        seen.inside.add(v);
      else if (plan.beside.at<unsigned char>(r, c) != 0)
        seen.beside.add(v), seen.off_bare.push_back(std::abs(v));
    }
  }
  return seen;
}

/// The older coat under the top coat `first`, by colour or by look.
struct Coats {
  std::optional<OlderCoat> older;
  std::optional<CoatsSeen> seen;  ///< nothing where the coat reader was not asked
  double open = 0;                ///< share of the core that may be an older coat all the same
};
Coats find_coats(const PlanView& plan, const cv::Mat& bare, const Ratio& first, const PavementLook& look,
                 double core_mm, double blur_px, const CoatReader* reader) {
  Coats coats;
  coats.older = find_older_coat(plan, bare, first, core_mm, blur_px, look.broken);
  // It has learned too little of symbols on a field: the field's paint, or what is left of it, looks like an older
  // coat's.
  if (reader != nullptr && !plan.on_field) coats.seen = see_coats(*reader, plan, core_mm);
  if (!coats.seen) return coats;
  if (coats.older && colour_of_ratio(coats.older->over_pavement, false) == colour_of_ratio(first, false) &&
      speaks_against_coats(*coats.seen))
    coats.older.reset();  // a strip of sun or soil tints paint, too, though not into another colour
  if (!coats.older) {     // one colour, or a step too small for colour to tell
    CoatReading reading = older_coat_of(*coats.seen, plan, bare, core_mm);
    coats.older = std::move(reading.older);
    coats.open = reading.open;
  }
  return coats;
}

}  // namespace

std::optional<Separation> separate(const PlanView& whole, double core_mm, double blur_px, const CoatReader* coats) {
  const std::optional<PavementLook> look = look_of_pavement(whole);
  if (!look) return std::nullopt;
  Separation result;
  result.look = *look;
  const cv::Mat sharp = without_blur(whole, blur_px);
  LightAndPaint both = find_light_and_paint(whole, sharp, *look, core_mm);
  const Ratio first{both.found.ratio[0], both.found.ratio[1], both.found.ratio[2]};
  const auto [older, seen, open] = find_coats(whole, both.bare, first, *look, core_mm, blur_px, coats);
  result.open_older = open;
  const PlanView plan = older ? without_older(whole, *older) : whole;
  if (older) both = find_light_and_paint(plan, sharp, *look, core_mm);
  result.bare = both.bare;
  const PaintFound& found = both.found;
  cv::Mat x = coordinate(plan, result.bare, found.axis);
  // Not all of the way: the calmest blocks are also, by chance, a little brighter than the rest.
  const double sound = 1 + 0.8 * (std::clamp(calm_paint(plan, x, core_mm), 1.0, 1.8) - 1);
  x /= sound;
  result.paint_gain = local_paint(plan, x, core_mm, found.place.spread);
  x /= result.paint_gain;

  OnAxis on_axis = along_axis(plan, x, core_mm);
  const Mixture mixture = fit_mixture(on_axis.inside, on_axis.beside, std::max(0.03, found.place.spread));
  x = (x - mixture.bare_at) / (1 - mixture.bare_at);
  if (older) {
    x.setTo(0, older->map > 0);
    result.older = older->map;
    result.swapped = older->swapped;
    result.older_error = older->error;
    result.older_over_pavement = older->over_pavement;
  }
  if (seen) {
    result.by_look = top_coat_of(*seen, whole, older.has_value());
    result.flaked_by_look = flakes_of(*seen, whole);
    if (older) result.by_look.setTo(0, older->map > 0);
  }
  result.share = x;
  for (std::size_t k = 0; k < 3; ++k)
    result.over_pavement[k] = 1 + sound * (found.ratio[static_cast<int>(k)] - 1);
  if (std::vector<double>& out = on_axis.off_bare; !out.empty()) {
    const auto mid = out.begin() + static_cast<std::ptrdiff_t>(out.size() / 2);
    std::nth_element(out.begin(), mid, out.end());
    result.bare_spread = 1.4826 * *mid;
  }
  result.paint_spread = mixture.paint_spread;
  result.paint_error = 0.35 * found.place.error + 0.004 + 0.3 * (sound - 1);
  result.bare_error = 0.2 * result.bare_spread + 0.01;
  result.paint_weight = mixture.paint, result.bare_weight = mixture.bare, result.mixed_weight = mixture.part;
  result.mixture_mean = mixture.mean * (older ? 1 - share_of_core(whole, older->map, core_mm) : 1.0);
  result.contrast_to_noise = result.bare_spread > 0 ? 1 / result.bare_spread : 0;
  return result;
}

}  // namespace lotwear
