#include "capture/step_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lotwear {
namespace {

// Pixels to each side, tried from short to long: sharp edges need little room, and in little room nothing else reaches
// in. But a step shows its two sides only over several sigmas: within fewer, blurred stones pass for steps of half
// their blur.
constexpr std::array<int, 3> kReaches = {6, 9, kReach};
constexpr double kSigmasSeen = 6.5;
constexpr double kMostShift = 0.7;  // of sigma: as far as the slope stands for a shift

/// Unsharp masking: out = in + amount * (in - in blurred by a Gaussian of this radius).
struct Sharpening {
  double amount = 0, radius = 1;
};
constexpr std::array<double, 3> kAmounts = {0.5, 1, 2};
constexpr std::array<double, 4> kRadii = {0.8, 1.2, 1.8, 2.7};
static_assert(kSharpenings == 1 + kAmounts.size() * kRadii.size());

Sharpening sharpening_at(std::size_t number) {
  if (number == 0) return {};
  return {kAmounts[(number - 1) % kAmounts.size()], kRadii[(number - 1) / kAmounts.size()]};
}

struct Step {
  double sigma = 1;
  EdgeCurve value{}, slope{};
};
using Steps = std::array<Step, kSigmas>;

/// Unit steps of every sigma.
Steps make_steps(const Sharpening& sharpening) {
  const auto rise = [](double d, double sigma) { return 0.5 * std::erf(d / (sigma * std::numbers::sqrt2)); };
  const auto bell = [](double d, double sigma) {
    return std::exp(-0.5 * d * d / (sigma * sigma)) / (sigma * std::sqrt(2 * std::numbers::pi));
  };
  Steps steps;
  for (std::size_t index = 0; index < steps.size(); ++index) {
    Step& step = steps[index];
    step.sigma = sigma_at(static_cast<double>(index));
    const double wide = std::hypot(step.sigma, sharpening.radius), k = sharpening.amount;
    for (std::size_t bin = 0; bin < kBins; ++bin) {
      const double d = static_cast<double>(bin) / kPerPixel - kReach;
      step.value[bin] = (1 + k) * rise(d, step.sigma) - k * rise(d, wide);
      step.slope[bin] = (1 + k) * bell(d, step.sigma) - k * bell(d, wide);
    }
  }
  return steps;
}

const Steps& steps_of(std::size_t sharpening) {
  static const auto all = [] {
    std::array<Steps, kSharpenings> made;
    for (std::size_t number = 0; number < made.size(); ++number)
      made[number] = make_steps(sharpening_at(number));
    return made;
  }();
  return all.at(sharpening);
}

/// Least squares of level + contrast * step + shift * slope over the bins within `reach` pixels.
StepFit fit_one(const EdgeProfile& profile, const Step& step, int reach) {
  double w = 0, p = 0, q = 0, v = 0, pp = 0, pq = 0, qq = 0, pv = 0, qv = 0, vv = 0;
  const auto first = static_cast<std::size_t>((kReach - reach) * kPerPixel), last = kBins - 1 - first;
  for (std::size_t bin = first; bin <= last; ++bin) {
    const double weight = profile.weight[bin], value = profile.value[bin];
    const double wp = weight * step.value[bin], wq = weight * step.slope[bin];
    w += weight;
    p += wp;
    q += wq;
    v += weight * value;
    pp += wp * step.value[bin];
    pq += wp * step.slope[bin];
    qq += wq * step.slope[bin];
    pv += wp * value;
    qv += wq * value;
    vv += weight * value * value;
  }
  if (w <= 0) return {};
  pp -= p * p / w;
  pq -= p * q / w;
  qq -= q * q / w;
  pv -= p * v / w;
  qv -= q * v / w;
  vv -= v * v / w;
  const double determinant = pp * qq - pq * pq;
  if (determinant <= 1e-12 || vv <= 0) return {};
  const double contrast = (pv * qq - qv * pq) / determinant, shift = (qv * pp - pv * pq) / determinant;
  // A shift of much more than the blur is no shift any more but a thin line.
  if (contrast <= 0 || std::abs(shift) > kMostShift * std::max(1.0, step.sigma) * contrast) return {};
  const double left = std::max(0.0, vv - contrast * pv - shift * qv);
  return {step.sigma, contrast, 1 - left / vv, left / (w * contrast * contrast)};
}

StepFit fit_within(const EdgeProfile& profile, const Steps& steps, int reach) {
  std::array<StepFit, kSigmas> fits;
  std::transform(steps.begin(), steps.end(), fits.begin(),
                 [&](const Step& step) { return fit_one(profile, step, reach); });
  const auto best = std::max_element(fits.begin(), fits.end(), [](const StepFit& one, const StepFit& other) {
    return one.explained < other.explained;
  });
  StepFit fit = *best;
  if (best == fits.begin() || best + 1 == fits.end()) return fit;
  // The top of the parabola through the three best.
  const double before = (best - 1)->explained, here = best->explained, after = (best + 1)->explained;
  const double bend = before - 2 * here + after;
  const double aside = bend < 0 ? std::clamp(0.5 * (before - after) / bend, -0.5, 0.5) : 0;
  fit.sigma = sigma_at(static_cast<double>(best - fits.begin()) + aside);
  return fit;
}

}  // namespace

double sigma_at(double index) { return 0.3 * std::pow(1.155, index); }

StepFit fit_step(const EdgeProfile& profile, std::size_t sharpening) {
  const Steps& steps = steps_of(sharpening);
  StepFit fit;
  for (const int reach : kReaches) {
    fit = fit_within(profile, steps, reach);
    if (fit.explained > 0 && fit.sigma * kSigmasSeen <= reach) break;
  }
  return fit;
}

}  // namespace lotwear
