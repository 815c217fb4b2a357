#include "measure/measure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/flaking_grade.hpp"
#include "measure/appearance.hpp"
#include "measure/causes.hpp"
#include "measure/fading.hpp"
#include "measure/interval.hpp"
#include "measure/plan_view.hpp"
#include "measure/second_opinion.hpp"
#include "measure/separation.hpp"
#include "measure/size.hpp"

namespace lotwear {
namespace {

constexpr double kOpenQuestion = 0.15;  // chance of the other answer that an interval has to hold
// An interval this wide is for a person to look at. Of 1051 markings in 720 scenes it marks 48 more (535 before), 12 of
// them off by more than 10 points (of 112; 74 were marked before).
constexpr double kTooWide = 0.30;
constexpr double kNinety = 1.645;  // standard deviations to each side of a 90 % interval

/// The interval made to hold another one, its value kept.
Interval reaching(const Interval& interval, const Interval& other) {
  return {std::min(interval.low, other.low), interval.value, std::max(interval.high, other.high)};
}

/// How far inside the outline a pixel shows nothing but the marking: blur and demosaicing, and the outline's own error.
double core_of(const PlanView& plan, const Footprint& footprint, const Photo& photo) {
  double deepest = 0;
  cv::minMaxLoc(plan.inside_mm, nullptr, &deepest);
  const double blur = std::clamp(photo.quality.blur_px, 0.6, 2.5);
  const double wanted = 1.3 * footprint.edge_error.value + (0.7 + blur) * plan.photo_px_mm;
  return std::min(wanted, 0.4 * deepest);
}

struct Mean {
  double share = 0, older = 0;
};
/// Mean over the core; the rim is taken to be like it.
Mean mean_of_core(const PlanView& plan, const Separation& paint, double core_mm) {
  double n = 0, share = 0, older = 0;
  for (int r = 0; r < plan.light.rows; ++r) {
    const auto* ours = plan.ours.ptr<unsigned char>(r);
    const float* inside = plan.inside_mm.ptr<float>(r);
    const float* x = paint.share.ptr<float>(r);
    for (int c = 0; c < plan.light.cols; ++c) {
      if (ours[c] == 0 || inside[c] <= static_cast<float>(core_mm)) continue;
      n += 1;
      share += static_cast<double>(std::clamp(x[c], -0.6F, 1.6F));
      if (!paint.older.empty()) older += static_cast<double>(paint.older.at<float>(r, c));
    }
  }
  return n > 0 ? Mean{share / n, older / n} : Mean{};
}

/// Channels in which most of the paint is at the top of the scale.
std::array<bool, 3> clipped_channels(const PlanView& plan, const Separation& paint, double core_mm) {
  std::array<double, 3> clipped{};
  double all = 0;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      if (plan.ours.at<unsigned char>(r, c) == 0 || plan.inside_mm.at<float>(r, c) <= static_cast<float>(core_mm) ||
          paint.share.at<float>(r, c) < 0.8F)
        continue;
      all += 1;
      for (std::size_t k = 0; k < 3; ++k)
        clipped[k] += (plan.clipped.at<unsigned char>(r, c) >> k) & 1;
    }
  }
  return {clipped[0] > 0.5 * all, clipped[1] > 0.5 * all, clipped[2] > 0.5 * all};
}

/// Whether loss is of flakes is told from its look alone; what is open there is most of the error. In broken light
/// flakes are missed more often than made up. Weights of the least interval score on 482 markings as found in 360
/// scenes.
Interval flaked_within(double flaked, const Causes& causes, double lost, double width, bool broken) {
  const double share = causes.loss.flaked.value * width / (2 * kNinety), open = lost * causes.unsure;
  const double deviation =
      broken ? std::hypot(0.3 * share, 0.5 * open) + 0.006 : std::hypot(0.8 * share, 0.75 * open) + 0.004;
  return interval_within(flaked, kNinety * deviation, (broken ? 2 : 1) * kNinety * deviation);
}

/// Share of the footprint that painted edges leave open: they wander by about a millimetre, and what they miss inside
/// is lost while what they overshoot outside counts for nothing. The core does not show it.
double ragged_rim(const Footprint& footprint) {
  constexpr double kMissedMm = 0.35;
  double whole = 0, around = 0;
  for (const GroundRing& ring : footprint.rings)
    whole += area(ring), around += perimeter(ring);
  return std::clamp(kMissedMm * around / std::max(1.0, whole), 0.0, 0.05);
}

/// Linear light 0..1 to sRGB bytes by table; the darkest step of one byte is over ten entries wide.
class Encoded {
 public:
  Encoded() {
    for (std::size_t i = 0; i < bytes_.size(); ++i)
      bytes_[i] = static_cast<unsigned char>(std::lround(255 * linear_to_srgb(static_cast<double>(i) / kSteps)));
  }
  unsigned char operator()(float light) const {
    return bytes_[static_cast<std::size_t>(std::clamp(light, 0.0F, 1.0F) * kSteps + 0.5F)];
  }

 private:
  static constexpr int kSteps = 1 << 15;
  std::array<unsigned char, kSteps + 1> bytes_{};
};

LossMap map_of(const PlanView& plan, const Separation& paint, const Causes& causes, const ColourSpace&) {
  LossMap map;
  map.mm_per_pixel = plan.mm_per_pixel, map.origin = plan.origin, map.turn_rad = plan.turn_rad;
  map.plan.create(plan.light.size(), CV_8UC3);
  map.what.create(plan.light.size(), CV_8U);
  map.fraction.create(plan.light.size(), CV_32F);
  static const Encoded encoded;
  cv::Mat share;
  cv::GaussianBlur(paint.share, share, {}, 0.7, 0.7, cv::BORDER_REPLICATE);
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      const cv::Vec3f light = plan.light.at<cv::Vec3f>(r, c);
      cv::Vec3b& shown = map.plan.at<cv::Vec3b>(r, c);
      for (int k = 0; k < 3; ++k)
        shown[k] = encoded(light[k]);
      const bool within = plan.inside_mm.at<float>(r, c) > 0;
      const bool ours = plan.ours.at<unsigned char>(r, c) != 0;
      const float x = std::clamp(share.at<float>(r, c), 0.0F, 1.0F);
      map.fraction.at<float>(r, c) = ours ? x : 0;
      Spot spot = Spot::outside;
      if (within && !ours) spot = Spot::unseen;
      if (ours) {
        if (!paint.older.empty() && paint.older.at<float>(r, c) > 0.5F)
          spot = Spot::older_coat;
        else if (x >= 0.5F)
          spot = paint.paint_gain.at<float>(r, c) < 0.82F ? Spot::soiled : Spot::paint;
        else if (causes.crack.at<unsigned char>(r, c) != 0)
          spot = Spot::cracked;
        else
          spot = causes.flake_likelihood.at<float>(r, c) > 0.5F ? Spot::flaked : Spot::abraded;
      }
      map.what.at<unsigned char>(r, c) = static_cast<unsigned char>(spot);
    }
  }
  return map;
}

}  // namespace

Result<Measurement> measure(const Photo& photo, const PaintMap& finder, const Ground& ground,
                            const std::vector<Footprint>& all, std::size_t which, const CoatReader* coats) {
  const Result<PlanView> plan = look_down(photo, finder, ground, all, which);
  if (!plan) return plan.problem();
  return measure_plan(photo, ground, all[which], *plan, coats);
}

Result<Measurement> measure_plan(const Photo& photo, const Ground& ground, const Footprint& footprint,
                                 const PlanView& plan, const CoatReader* coats) {
  if (plan.seen < 0.25) {
    return Problem{photo.file,
                   "less than a quarter of a marking can be seen; step back until the whole of it is in view"};
  }
  const double core = core_of(plan, footprint, photo);
  // the reader has not learned from fields, where a symbol's rims look like a coat's
  const bool of_a_kind = footprint.kind != Kind::other;
  std::optional<Separation> paint = separate(plan, core, photo.quality.blur_px, of_a_kind ? coats : nullptr);
  if (!paint)
    return Problem{photo.file, "no bare pavement can be seen beside a marking; it cannot be compared with anything"};

  const double blur_mm =
      std::hypot(photo.quality.blur_px > 0 ? std::min(photo.quality.blur_px, 3.0) : 0.8, 0.35) * plan.photo_px_mm;
  const SecondOpinion opinion = hear_second_opinion(plan, core, blur_mm, *paint);
  const Causes causes = find_causes(plan, *paint, core);

  Measurement measurement;
  Condition& condition = measurement.condition;
  condition.doubts = footprint.doubts, condition.in_doubt = !footprint.doubts.empty();
  const Mean mean = mean_of_core(plan, *paint, core);
  const double remaining = std::clamp(mean.share, 0.0, 1.0) * (1 - ragged_rim(footprint)),
               older = std::clamp(mean.older, 0.0, 1 - remaining), lost = 1 - remaining;
  condition.loss = {causes.loss.abraded * lost, causes.loss.flaked * lost, causes.loss.cracked * lost};
  if (causes.loss.abraded.value + causes.loss.flaked.value + causes.loss.cracked.value <= 0)
    condition.loss.abraded = Fraction{lost};
  condition.any_coat = Fraction{remaining + older};
  const double flaked = condition.loss.flaked.value;
  condition.colour = colour_of_paint(plan, *paint, paint->over_pavement, photo.grey);
  measurement.paint = {paint->over_pavement,   clipped_channels(plan, *paint, core),
                       condition.colour,       chance_of_concrete(*paint),
                       3 * paint->paint_error, plan.on_field};
  condition.faded = fading_of({measurement.paint}).front();
  const double by_light =
      std::clamp(mean.share - opinion.weight * opinion.apart, 0.0, 1.0);  // before the second opinion
  ErrorBudget budget =
      error_budget(plan, *paint, footprint, core, blur_mm, {by_light, flaked, condition.faded.value.value});
  budget.two = opinion.weight > 0;
  budget.below = std::max(0.0, -opinion.apart), budget.above = std::max(0.0, opinion.apart);
  measurement.budget = budget;
  const double by_coats = kNinety * paint->older_error;
  const double down = std::hypot(budget.reach_down(), by_coats), up = std::hypot(budget.reach_up(), by_coats);
  condition.remaining = interval_within(remaining, down, up);
  condition.flaked = flaked_within(flaked, causes, lost, down + up, paint->look.broken);
  condition.older_coat = interval_of(older, std::max(0.25 * older + 0.01, paint->older_error));
  // Dull paint in the chips may be an older coat of the same hue.
  condition.older_coat.high =
      Fraction{std::min(1.0, std::max(condition.older_coat.high.value, older + budget.dull + 1.5 * paint->open_older))};
  condition.flaked.high = Fraction{std::min(1.0, condition.flaked.high.value + budget.dull + paint->open_older)};
  if (paint->swapped > kOpenQuestion) {
    // Either may be the top coat: what the other answer says lies within.
    condition.remaining = reaching(condition.remaining, interval_within(older, down, up));
    condition.older_coat = reaching(condition.older_coat, interval_within(remaining, down, up));
    condition.doubts.emplace_back("two coats show, and the photo does not tell which of them is the top one");
    condition.in_doubt = true;
  }
  const Interval& left = condition.remaining;
  if (left.high.value - left.low.value > kTooWide) {
    condition.doubts.push_back(
        fmt::format("the photo tells what is left only roughly: anywhere from {:.0f} % to {:.0f} %", percent(left.low),
                    percent(left.high)));
    condition.in_doubt = true;
  }
  if (older > 0.005) condition.older_colour = colour_of_paint(plan, *paint, paint->older_over_pavement, photo.grey);
  condition.surface = surface_of(*paint);
  condition.appearance = appearance_of(plan, *paint, core);
  condition.appearance.faded = condition.faded.value;
  condition.seen = Fraction{plan.seen};
  condition.size = size_of(footprint, ground);
  if (condition.size) condition.flaking_grade = flaking_grade(condition.loss.flaked, {causes.typical_flake_mm});
  measurement.map = map_of(plan, *paint, causes, photo.space);
  return measurement;
}

}  // namespace lotwear
