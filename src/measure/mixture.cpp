#include "measure/mixture.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {
namespace {

constexpr double kSoundScatter = 0.08;  // of sound paint's level, pixel by pixel, over the level itself

double bell(double z) { return std::exp(-0.5 * z * z); }

/// Value of a histogram's density between bin centres, zero outside.
double density_at(const Histogram& h, double x) {
  const double t = (x - h.low) / h.width() - 0.5;
  const auto i = static_cast<std::ptrdiff_t>(std::floor(t));
  const double f = t - static_cast<double>(i);
  const auto value = [&](std::ptrdiff_t k) {
    return k >= 0 && k < static_cast<std::ptrdiff_t>(h.bins.size()) ? h.bins[static_cast<std::size_t>(k)] : 0.0;
  };
  return value(i) * (1 - f) + value(i + 1) * f;
}

}  // namespace

double Histogram::total() const {
  double sum = 0;
  for (const double b : bins)
    sum += b;
  return sum;
}

Histogram Histogram::smoothed(double sigma) const {
  Histogram out(low, high, bins.size());
  const int reach = std::max(1, static_cast<int>(std::ceil(3 * sigma / width())));
  std::vector<double> kernel;
  double norm = 0;
  for (int k = -reach; k <= reach; ++k)
    kernel.push_back(bell(k * width() / sigma)), norm += kernel.back();
  const int n = static_cast<int>(bins.size());
  for (int i = 0; i < n; ++i) {
    for (int k = -reach; k <= reach; ++k) {
      if (i + k >= 0 && i + k < n)
        out.bins[static_cast<std::size_t>(i + k)] +=
            bins[static_cast<std::size_t>(i)] * kernel[static_cast<std::size_t>(k + reach)] / norm;
    }
  }
  return out;
}

PaintPlace find_paint(const Histogram& inside, const Histogram& beside, double bare_spread, double favour) {
  const double in_total = inside.total(), out_total = beside.total();
  PaintPlace place;
  if (in_total <= 0 || out_total <= 0) return place;
  // The largest share of bare pavement that the lower half of the distribution allows.
  double bare = 1, in_low = 0, out_low = 0;
  for (std::size_t i = 0; i < inside.bins.size() && inside.centre(i) < 0.3 * bare_spread; ++i) {
    in_low += inside.bins[i] / in_total, out_low += beside.bins[i] / out_total;
  }
  if (out_low > 0) bare = std::min(1.0, in_low / out_low);
  Histogram rest(inside.low, inside.high, inside.bins.size());
  for (std::size_t i = 0; i < rest.bins.size(); ++i) {
    if (rest.centre(i) > 0) rest.bins[i] = std::max(0.0, inside.bins[i] / in_total - bare * beside.bins[i] / out_total);
  }
  const double mass = rest.total();
  if (mass < 0.004) return place;
  const auto upper = [&](double share) {
    double sum = 0;
    for (std::size_t i = rest.bins.size(); i-- > 0;) {
      sum += rest.bins[i];
      if (sum >= share * mass) return rest.centre(i);
    }
    return rest.low;
  };
  const double end = upper(0.02);
  const Histogram smooth = rest.smoothed(std::max(rest.width(), 0.045 * std::max(end, bare_spread)));
  // Upper modes: the one with the most paint around it; lower ones must be much stronger, as partly covered pixels and
  // soiled paint lie below sound paint and nothing lies above it.
  double best = 0;
  std::size_t chosen = 0;
  for (std::size_t i = 1; i + 1 < smooth.bins.size(); ++i) {
    const double x = smooth.centre(i);
    if (x < 1.5 * bare_spread || x < 0.35 * end || smooth.bins[i] < smooth.bins[i - 1] ||
        smooth.bins[i] <= smooth.bins[i + 1])
      continue;
    const double score = smooth.bins[i] * std::pow(x / end, favour);
    if (score > best) best = score, chosen = i;
  }
  if (chosen > 0) {
    // A mode must stand over the valley below it.
    double valley = smooth.bins[chosen];
    for (std::size_t i = chosen; i > 0 && smooth.centre(i) > 0.3 * smooth.centre(chosen); --i)
      valley = std::min(valley, smooth.bins[i]);
    if (valley < 0.8 * smooth.bins[chosen]) {
      place.stands_out = true;
      place.at = smooth.centre(chosen);
    }
  }
  if (!place.stands_out) place.at = upper(0.06);
  // Half width at half height above the mode: noise of sound paint, free of part-covered pixels.
  const double height = density_at(smooth, place.at);
  double x = place.at;
  while (x < smooth.high && density_at(smooth, x) > 0.5 * height)
    x += 0.5 * smooth.width();
  place.spread = std::clamp((x - place.at) / 1.1774, 0.02 * place.at, 0.3 * place.at);
  // A tail that falls off more slowly than sound paint scatters has not reached whole paint yet.
  if (!place.stands_out) place.at += 1.2 * std::max(0.0, place.spread - kSoundScatter * place.at);
  double near = 0;
  for (std::size_t i = 0; i < rest.bins.size(); ++i)
    near += std::abs(rest.centre(i) - place.at) < 1.5 * place.spread ? rest.bins[i] : 0.0;
  place.error = place.stands_out ? place.spread * (0.12 + 0.08 / std::sqrt(0.02 + near)) : 0.12 * place.at;
  return place;
}

Mixture fit_mixture(const Histogram& inside, const Histogram& beside, double paint_spread) {
  Mixture m;
  m.paint_spread = std::clamp(paint_spread, 0.03, 0.2);
  m.bare = m.paint = m.part = 1.0 / 3;
  const double total = std::max(1e-9, inside.total()), out_total = std::max(1e-9, beside.total()) * beside.width();
  for (int turn = 0; turn < 40; ++turn) {
    double bare = 0, paint = 0, part = 0, bare_sum = 0, paint_square = 0, part_sum = 0;
    for (std::size_t i = 0; i < inside.bins.size(); ++i) {
      const double n = inside.bins[i];
      if (n <= 0) continue;
      const double x = inside.centre(i), span = std::max(0.2, m.paint_at - m.bare_at);
      const double b = m.bare * density_at(beside, x - m.bare_at) / out_total;
      const double p = m.paint * bell((x - m.paint_at) / m.paint_spread) / (2.5066 * m.paint_spread);
      const double soft = 0.5 * m.paint_spread;
      const double u =
          m.part / span / ((1 + std::exp(-(x - m.bare_at) / soft)) * (1 + std::exp((x - m.paint_at) / soft)));
      const double sum = b + p + u + 1e-6;
      bare += n * b / sum, paint += n * p / sum, part += n * u / sum;
      bare_sum += n * b / sum * (x - m.bare_at);
      paint_square += n * p / sum * (x - m.paint_at) * (x - m.paint_at);
      part_sum += n * u / sum * std::clamp((x - m.bare_at) / span, 0.0, 1.0);
    }
    const double all = std::max(1e-9, bare + paint + part);
    m.bare = bare / all, m.paint = paint / all, m.part = part / all;
    // Places move only as far as their weight carries them: priors worth a few percent of the pixels.
    double mean_out = 0;
    for (std::size_t i = 0; i < beside.bins.size(); ++i)
      mean_out += beside.bins[i] * beside.centre(i);
    mean_out /= std::max(1e-9, beside.total());
    m.bare_at = std::clamp(m.bare_at + (bare_sum - bare * mean_out) / (bare + 0.1 * total) * 0.7, -0.12, 0.15);
    m.paint_spread = std::clamp(
        std::sqrt((paint_square + 0.02 * total * paint_spread * paint_spread) / (paint + 0.02 * total)), 0.025, 0.22);
    m.mean = m.paint + (part > 0 ? part_sum / part : 0.5) * m.part;
  }
  return m;
}

}  // namespace lotwear
