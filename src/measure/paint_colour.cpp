#include "measure/paint_colour.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include "measure/appearance.hpp"
#include "measure/quantile.hpp"

namespace lotwear {
namespace {

constexpr double kSettled = 0.001;  // of the step from pavement to paint: what further turns would change

struct Histograms {
  Histogram inside, beside;
  double bare_spread;
};
/// `inside`: where the inside samples lie on the axis.
Histograms histograms(const PaintSamples& samples, const std::vector<double>& inside, const PaintAxis& axis, double low,
                      double high) {
  Histograms h{{low, high, kAxisBins}, {low, high, kAxisBins}, 0};
  std::vector<double> out;
  out.reserve(samples.beside.size());
  for (const cv::Vec3d& q : samples.beside) {
    const double x = axis.at(q);
    h.beside.add(x);
    out.push_back(std::abs(x));
  }
  if (!out.empty()) {
    const auto mid = out.begin() + static_cast<std::ptrdiff_t>(out.size() / 2);
    std::nth_element(out.begin(), mid, out.end());
    h.bare_spread = std::max(1e-3, 1.4826 * *mid);
  }
  for (std::size_t i = 0; i < inside.size(); ++i)
    h.inside.add(inside[i], samples.trust[i]);
  return h;
}

double brightness(const cv::Vec3d& over_pavement) {
  return 0.2126 * over_pavement[0] + 0.7152 * over_pavement[1] + 0.0722 * over_pavement[2];
}

/// Mean of the inside where it is brighter than `brighter_than`; `least`: of its weight, else nothing.
std::optional<cv::Vec3d> mean_inside(const PaintSamples& samples, double brighter_than, double least) {
  cv::Vec3d sum(0, 0, 0);
  double weight = 0, all = 0;
  for (std::size_t i = 0; i < samples.inside.size(); ++i) {
    all += samples.trust[i];
    if (brightness(samples.inside[i]) <= brighter_than) continue;
    for (int k = 0; k < 3; ++k)
      sum[k] += samples.trust[i] * std::min(20.0, samples.inside[i][k]);
    weight += samples.trust[i];
  }
  if (weight <= least * all) return std::nullopt;
  return sum * (1 / std::max(1e-9, weight));
}

/// Direction and place of the paint, from `paint` toward the inside's own upper mode.
PaintFound find_upper_mode(const PaintSamples& samples, cv::Vec3d paint, const PavementLook& look, double favour) {
  PaintFound found;
  if (cv::norm(paint - cv::Vec3d(1, 1, 1)) < 0.02) paint = {1.05, 1.05, 1.05};
  for (int turn = 0; turn < 4; ++turn) {
    found.axis = axis_to(paint, samples, look);
    std::vector<double> xs;
    xs.reserve(samples.inside.size());
    for (const cv::Vec3d& q : samples.inside)
      xs.push_back(found.axis.at(q));
    if (xs.empty()) return found;
    std::vector<double> sorted = xs;
    const double high = std::max(0.5, 1.25 * quantile(sorted, 0.995));
    const Histograms h = histograms(samples, xs, found.axis, -0.6 * high, high);
    found.bare_spread = h.bare_spread;
    found.place = find_paint(h.inside, h.beside, h.bare_spread, favour);
    if (!(found.place.at > 0)) return found;
    cv::Vec3d sum(0, 0, 0);
    double n = 0;
    for (std::size_t i = 0; i < samples.inside.size(); ++i) {
      if (std::abs(xs[i] - found.place.at) > std::max(1.2 * found.place.spread, 0.06 * found.place.at)) continue;
      const double w = samples.trust[i];
      for (int k = 0; k < 3; ++k)
        sum[k] += w * samples.inside[i][k];
      n += w;
    }
    const cv::Vec3d before = found.ratio;
    if (n > 0) paint = sum * (1 / n);
    found.ratio = paint;
    if (cv::norm(paint - before) < kSettled * cv::norm(paint - cv::Vec3d(1, 1, 1))) break;
  }
  // The axis puts `paint` at 1; the mode found on the last turn's axis is near it.
  found.axis = axis_to(found.ratio, samples, look);
  found.place.spread /= std::max(1e-6, found.place.at);
  found.place.error /= std::max(1e-6, found.place.at);
  found.place.at = 1;
  return found;
}

bool is_black(const PaintFound& found) {
  return found.place.at > 0 &&
         colour_of_ratio({found.ratio[0], found.ratio[1], found.ratio[2]}, false) == Colour::black;
}

/// From the mean of the inside. Where little is left of a light paint, oil and soil make that mean darker than
/// pavement, and darkness would be taken for the paint; but spots brighter than pavement ever is show in no black one.
PaintFound find_upper_mode(const PaintSamples& samples, const PavementLook& look, double favour) {
  constexpr double kEverSoBright = 0.98, kLeastShare = 0.05;
  const cv::Vec3d mean = mean_inside(samples, -1e9, -1).value_or(cv::Vec3d(1, 1, 1));
  PaintFound found = find_upper_mode(samples, mean, look, favour);
  if (!is_black(found) || samples.beside.empty()) return found;
  std::vector<double> beside;
  for (const cv::Vec3d& q : samples.beside)
    beside.push_back(brightness(q));
  const std::optional<cv::Vec3d> bright = mean_inside(samples, quantile(beside, kEverSoBright), kLeastShare);
  if (!bright) return found;
  PaintFound light = find_upper_mode(samples, *bright, look, favour);
  return light.place.at > 0 && !is_black(light) ? light : found;
}

PaintSamples without_clipped(const PaintSamples& all) {
  PaintSamples open;
  open.beside = all.beside;
  for (std::size_t i = 0; i < all.inside.size(); ++i) {
    if (all.at_top[i] != 0) continue;
    open.inside.push_back(all.inside[i]);
    open.trust.push_back(all.trust[i]);
    open.at_top.push_back(0);
  }
  return open;
}

}  // namespace

// A few burnt-out pixels are glints of facets that face the sun: all on one level, they would pass for paint that
// scatters little.
PaintFound find_paint_colour(const PaintSamples& samples, const PavementLook& look, double favour) {
  constexpr double kGlints = 0.03;  // share of the inside
  const auto all = static_cast<double>(samples.inside.size());
  const auto left = static_cast<double>(std::count(samples.at_top.begin(), samples.at_top.end(), 0));
  if (left < all && left > (1 - kGlints) * all) return find_upper_mode(without_clipped(samples), look, favour);
  PaintFound found = find_upper_mode(samples, look, favour);
  if (left == all || left < 0.1 * all || left < 500) return found;
  const PaintFound shaded = find_upper_mode(without_clipped(samples), look, favour);
  if (!(shaded.place.at > 0) || !shaded.place.stands_out) return found;
  const double looks = shaded.axis.at(found.ratio);
  if (looks > 0.97 || looks < 0.3) return found;
  return shaded;
}

}  // namespace lotwear
