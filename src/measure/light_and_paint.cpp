#include "measure/light_and_paint.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "measure/carried.hpp"
#include "measure/light_field.hpp"
#include "measure/light_look.hpp"

namespace lotwear {
namespace {

constexpr double kEvenMm = 35;   // blur of the pavement beside the marking in even light
constexpr double kCloseMm = 10;  // the same in broken light: no wider than the smaller spots of light
constexpr double kAnywhere = 1e9;
constexpr double kSamePaint = 0.02;   // two paints' light over pavement's, no further apart than this
constexpr double kSoundSpread = 0.1;  // of sound paint, pixel by pixel, over its step from the pavement

/// How sure the carried-in light is: low where light and shade both lie within reach.
cv::Mat trust_in_light(const PlanView& plan) {
  cv::Mat log_light(plan.light.size(), CV_32FC2), weight;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      const cv::Vec3f v = plan.light.at<cv::Vec3f>(r, c);
      const float l = std::log(std::max(kDarkestLight, luminance(v)));
      log_light.at<cv::Vec2f>(r, c) = {l, l * l};
    }
  }
  plan.beside.convertTo(weight, CV_32F);
  const double shrink = std::max(1.0, 6 / plan.mm_per_pixel);
  const cv::Size size(std::max(1, static_cast<int>(plan.light.cols / shrink)),
                      std::max(1, static_cast<int>(plan.light.rows / shrink)));
  cv::Mat weighted, w;
  std::vector<cv::Mat> planes;
  cv::split(log_light, planes);
  for (cv::Mat& p : planes) {
    p = p.mul(weight);
    cv::resize(p, p, size, 0, 0, cv::INTER_AREA);
  }
  cv::resize(weight, w, size, 0, 0, cv::INTER_AREA);
  cv::Mat safe = cv::max(w, 1e-6);
  for (cv::Mat& p : planes)
    p /= safe;
  cv::merge(planes, weighted);
  const cv::Mat moments = carried(weighted, w, plan.mm_per_pixel * plan.light.cols / size.width, kCloseMm);
  cv::Mat trust(size, CV_32F), full;
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const cv::Vec2f m = moments.at<cv::Vec2f>(r, c);
      const float spread2 = std::max(0.0F, m[1] - m[0] * m[0]);
      trust.at<float>(r, c) = std::exp(-spread2 / 0.03F) + 1e-3F;
    }
  }
  cv::resize(trust, full, plan.light.size(), 0, 0, cv::INTER_LINEAR);
  return full;
}

PaintGuess guess_of(const PaintFound& found) {
  PaintGuess guess;
  guess.over_pavement = {found.ratio[0], found.ratio[1], found.ratio[2]};
  guess.spread = std::clamp(found.place.spread, 0.05, 0.12);
  return guess;
}

/// The best of the guesses at the paint, by a glance each, refined with its light.
LightAndPaint settle_broken_light(const PlanView& plan, const cv::Mat& sharp, const PavementLook& look,
                                  double core_mm) {
  std::vector<PaintFound> guesses;
  // Just inside the edge falls the light that falls just outside of it.
  const cv::Mat close = even_light(plan, kCloseMm);
  const PaintSamples near = paint_samples(plan, sharp, close, core_mm, core_mm + 1.5 * kCloseMm, trust_in_light(plan));
  guesses.push_back(find_paint_colour(near, look, 0.2));
  guesses.push_back(find_paint_colour(near, look, 1.5));
  // Paint in the sun over pavement in the sun: right wherever some of either lies in the sun.
  cv::Mat sun(plan.light.size(), CV_32FC3, cv::Scalar(look.sun[0], look.sun[1], look.sun[2]));
  const PaintSamples sunlit = paint_samples(plan, sharp, sun, core_mm, kAnywhere, {});
  guesses.push_back(find_paint_colour(sunlit, look, 1.0));
  guesses.push_back(find_paint_colour(sunlit, look, 3.0));
  LightSearch search(plan, look);
  std::size_t best = 0;
  double least = 1e30;
  for (std::size_t i = 0; i < guesses.size(); ++i) {
    bool seen_before = false;
    for (std::size_t j = 0; j < i; ++j)
      seen_before = seen_before || cv::norm(guesses[i].ratio - guesses[j].ratio) < kSamePaint;
    if (seen_before) continue;
    const double misfit = search.under(guess_of(guesses[i]), Effort::glance).misfit;
    if (misfit < least) least = misfit, best = i;
  }
  BrokenLight light = search.under(guess_of(guesses[best]), Effort::full);
  PaintFound found = find_paint_colour(paint_samples(plan, sharp, light.bare, core_mm, kAnywhere, {}), look);
  // a second look with nearly the same paint would show the same
  if (cv::norm(found.ratio - guesses[best].ratio) < kSamePaint) return {light.bare, found};
  const BrokenLight again = search.under(guess_of(found), Effort::full);
  if (again.misfit <= light.misfit + 0.02) {
    light = again;
    found = find_paint_colour(paint_samples(plan, sharp, light.bare, core_mm, kAnywhere, {}), look);
  }
  return {light.bare, found};
}

}  // namespace

LightAndPaint find_light_and_paint(const PlanView& plan, const cv::Mat& sharp, const PavementLook& look,
                                   double core_mm) {
  LightAndPaint both;
  if (!look.broken) {
    both.bare = even_light(plan, kEvenMm);
    both.found = find_paint_colour(paint_samples(plan, sharp, both.bare, core_mm, kAnywhere, {}), look);
  } else {
    both = settle_broken_light(plan, sharp, look, core_mm);
  }
  // Sound paint scatters little; a wide mode is of pixels that are all part worn, and single photo pixels may show pure
  // paint. Where the mode is narrow they would only add their noise.
  if (!plan.fine.empty() && (!both.found.place.stands_out || both.found.place.spread > kSoundSpread))
    both.found = find_paint_colour(paint_samples(plan, plan.fine, both.bare, core_mm, kAnywhere, {}), look);
  return both;
}

}  // namespace lotwear
