#include "measure/separation.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <tuple>
#include <utility>
#include <vector>

#include "measure/appearance.hpp"
#include "measure/carried.hpp"
#include "measure/coats_seen.hpp"
#include "measure/light_field.hpp"
#include "measure/mixture.hpp"
#include "measure/older_coat.hpp"

namespace lotwear {
namespace {

constexpr std::size_t kBins = 400;
constexpr double kEvenMm = 35;   // blur of the pavement beside the marking in even light
constexpr double kCloseMm = 10;  // the same in broken light: no wider than the smaller spots of light
constexpr double kAnywhere = 1e9;
constexpr double kSettled = 0.001;    // of the step from pavement to paint: what further turns would change
constexpr double kSamePaint = 0.02;   // two paints' light over pavement's, no further apart than this
constexpr double kSoundSpread = 0.1;  // of sound paint, pixel by pixel, over its step from the pavement

bool deep(const PlanView& plan, int r, int c, double core_mm) {
  return plan.inside_mm.at<float>(r, c) > static_cast<float>(core_mm);
}

struct Samples {
  std::vector<cv::Vec3d> inside, beside;  // pixel over bare pavement
  cv::Vec3d clipped{0, 0, 0};             // share of the inside pixels with that channel at the top of the scale
  std::vector<double> trust;              // of the inside ones: how sure the light is there
  cv::Matx33d bare_spread = cv::Matx33d::zeros();  // of the ones beside, about bare pavement
  std::vector<unsigned char>
      at_top;  // of the inside ones: two channels are at the top of the scale; with one, the others tell
};

/// Pixels from `core_mm` to `deepest_mm` inside the outline, and beside it.
Samples sample(const PlanView& plan, const cv::Mat& sharp, const cv::Mat& bare, double core_mm, double deepest_mm,
               const cv::Mat& trust) {
  Samples samples;
  const int stride = plan.sample_step;
  for (int r = 0; r < plan.light.rows; r += stride) {
    for (int c = 0; c < plan.light.cols; c += stride) {
      const bool in =
          plan.ours.at<unsigned char>(r, c) != 0 && deep(plan, r, c, core_mm) && !deep(plan, r, c, deepest_mm);
      if (!in && plan.beside.at<unsigned char>(r, c) == 0) continue;
      const cv::Vec3f light = sharp.at<cv::Vec3f>(r, c), b = bare.at<cv::Vec3f>(r, c);
      cv::Vec3d q;
      for (int k = 0; k < 3; ++k)
        q[k] = static_cast<double>(light[k] / std::max(1e-4F, b[k]));
      if (in) {
        samples.inside.push_back(q);
        for (int k = 0; k < 3; ++k)
          samples.clipped[k] += (plan.clipped.at<unsigned char>(r, c) >> k) & 1;
        samples.at_top.push_back(std::popcount(plan.clipped.at<unsigned char>(r, c)) >= 2 ? 1 : 0);
        samples.trust.push_back(trust.empty() ? 1.0 : static_cast<double>(trust.at<float>(r, c)));
      } else {
        samples.beside.push_back(q);
      }
    }
  }
  samples.clipped *= 1 / std::max(1.0, static_cast<double>(samples.inside.size()));
  for (const cv::Vec3d& q : samples.beside) {
    const cv::Vec3d d(std::clamp(q[0] - 1.0, -1.0, 2.0), std::clamp(q[1] - 1.0, -1.0, 2.0),
                      std::clamp(q[2] - 1.0, -1.0, 2.0));
    samples.bare_spread += d * d.t();
  }
  samples.bare_spread *= 1 / std::max(1.0, static_cast<double>(samples.beside.size()));
  return samples;
}

struct Axis {
  cv::Vec3d weight;
  double at(const cv::Vec3d& q) const {
    return weight[0] * (q[0] - 1) + weight[1] * (q[1] - 1) + weight[2] * (q[2] - 1);
  }
};

/// Fisher's direction from bare to `paint`, scaled so that `paint` lies at 1. Bare pavement's covariance is widened by
/// what is not known of the paint's own colour and of the light's tint.
Axis axis_to(const cv::Vec3d& paint, const Samples& samples, const PavementLook& look) {
  cv::Matx33d spread = samples.bare_spread;
  const cv::Vec3d away = paint - cv::Vec3d(1, 1, 1);
  const double reach = cv::norm(away);
  spread += cv::Matx33d::eye() * (0.0004 + 0.02 * reach * reach);
  // A clipped channel reads part-covered pixels as whole paint: channels that are not clipped lead.
  const double least = std::min({samples.clipped[0], samples.clipped[1], samples.clipped[2]});
  for (int k = 0; k < 3; ++k)
    spread(k, k) += 4 * (samples.clipped[k] - least) * reach * reach;
  if (look.broken) {
    cv::Vec3d tint;
    double mean = 0;
    for (int k = 0; k < 3; ++k)
      mean += tint[k] = look.sun[static_cast<std::size_t>(k)] / look.shade[static_cast<std::size_t>(k)];
    tint = tint * (3 / mean) - cv::Vec3d(1, 1, 1);
    const cv::Vec3d shift(tint[0] * paint[0], tint[1] * paint[1], tint[2] * paint[2]);
    spread += shift * shift.t() * 0.05;
  }
  cv::Vec3d w = spread.inv(cv::DECOMP_CHOLESKY) * away;
  const double scale = w.dot(away);
  Axis axis;
  axis.weight = std::abs(scale) > 1e-9 ? w * (1 / scale) : cv::Vec3d(1, 1, 1) / 3;
  return axis;
}

struct Histograms {
  Histogram inside, beside;
  double bare_spread;
};
/// `inside`: where the inside samples lie on the axis.
Histograms histograms(const Samples& samples, const std::vector<double>& inside, const Axis& axis, double low,
                      double high) {
  Histograms h{{low, high, kBins}, {low, high, kBins}, 0};
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

struct PaintFound {
  Axis axis;
  cv::Vec3d ratio{1, 1, 1};
  PaintPlace place;
  double bare_spread = 0;
};

/// Mean of the inside where it is brighter than `brighter_than`; `least`: of its weight, else nothing.
std::optional<cv::Vec3d> mean_inside(const Samples& samples, double brighter_than, double least) {
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
PaintFound find_upper_mode(const Samples& samples, cv::Vec3d paint, const PavementLook& look, double favour) {
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
    const auto at = sorted.begin() + static_cast<std::ptrdiff_t>(0.995 * static_cast<double>(xs.size() - 1));
    std::nth_element(sorted.begin(), at, sorted.end());
    const double high = std::max(0.5, 1.25 * *at);
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
PaintFound find_upper_mode(const Samples& samples, const PavementLook& look, double favour) {
  constexpr double kEverSoBright = 0.98, kLeastShare = 0.05;
  const cv::Vec3d mean = mean_inside(samples, -1e9, -1).value_or(cv::Vec3d(1, 1, 1));
  PaintFound found = find_upper_mode(samples, mean, look, favour);
  if (!is_black(found) || samples.beside.empty()) return found;
  std::vector<double> beside;
  for (const cv::Vec3d& q : samples.beside)
    beside.push_back(brightness(q));
  const auto at = beside.begin() + static_cast<std::ptrdiff_t>(kEverSoBright * static_cast<double>(beside.size() - 1));
  std::nth_element(beside.begin(), at, beside.end());
  const std::optional<cv::Vec3d> bright = mean_inside(samples, *at, kLeastShare);
  if (!bright) return found;
  PaintFound light = find_upper_mode(samples, *bright, look, favour);
  return light.place.at > 0 && !is_black(light) ? light : found;
}

Samples without_clipped(const Samples& all) {
  Samples open;
  open.beside = all.beside;
  for (std::size_t i = 0; i < all.inside.size(); ++i) {
    if (all.at_top[i] != 0) continue;
    open.inside.push_back(all.inside[i]);
    open.trust.push_back(all.trust[i]);
    open.at_top.push_back(0);
  }
  return open;
}

/// Paint that the sun drives to the top of the scale looks duller against its pavement than it is, and its fine wear is
/// drowned. Where some of it lies in shade, the paint there tells its level. A few burnt-out pixels are glints of
/// facets that face the sun: all on one level, they would pass for paint that scatters little.
PaintFound find_paint_colour(const Samples& samples, const PavementLook& look, double favour = 1.5) {
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

/// How sure the carried-in light is: low where light and shade both lie within reach.
cv::Mat trust_in_light(const PlanView& plan) {
  cv::Mat small_light, log_light(plan.light.size(), CV_32FC2), weight;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      const cv::Vec3f v = plan.light.at<cv::Vec3f>(r, c);
      const float l = std::log(std::max(1e-4F, 0.2126F * v[0] + 0.7152F * v[1] + 0.0722F * v[2]));
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

cv::Mat coordinate(const PlanView& plan, const cv::Mat& bare, const Axis& axis) {
  cv::Mat x(plan.light.size(), CV_32F);
  for (int r = 0; r < x.rows; ++r) {
    const auto* light = plan.light.ptr<cv::Vec3f>(r);
    const auto* b = bare.ptr<cv::Vec3f>(r);
    float* out = x.ptr<float>(r);
    for (int c = 0; c < x.cols; ++c) {
      double v = 0;
      for (int k = 0; k < 3; ++k)
        v += axis.weight[k] * static_cast<double>(light[c][k] / std::max(1e-4F, b[c][k]) - 1);
      out[c] = static_cast<float>(std::clamp(v, -2.0, 3.0));
    }
  }
  return x;
}

/// Level of sound paint around every spot, over the usual one: blocks of smooth paint, carried.
cv::Mat local_paint(const PlanView& plan, const cv::Mat& x, double core_mm, double paint_spread) {
  const int side = std::max(4, static_cast<int>(std::lround(16 / plan.mm_per_pixel)));
  const int rows = (x.rows + side - 1) / side, cols = (x.cols + side - 1) / side;
  cv::Mat level(rows, cols, CV_32F, cv::Scalar(0)), width(rows, cols, CV_32F, cv::Scalar(0));
  std::vector<float> in, widths;
  for (int br = 0; br < rows; ++br) {
    for (int bc = 0; bc < cols; ++bc) {
      in.clear();
      for (int r = br * side; r < std::min(x.rows, (br + 1) * side); ++r) {
        for (int c = bc * side; c < std::min(x.cols, (bc + 1) * side); ++c) {
          if (plan.ours.at<unsigned char>(r, c) != 0 && deep(plan, r, c, core_mm)) in.push_back(x.at<float>(r, c));
        }
      }
      if (in.size() < static_cast<std::size_t>(side * side) / 3) continue;
      std::sort(in.begin(), in.end());
      const auto at = [&](double share) {
        return in[static_cast<std::size_t>(share * static_cast<double>(in.size() - 1))];
      };
      const float upper = at(0.55);
      if (upper < 0.45F || upper > 1.7F) continue;
      level.at<float>(br, bc) = upper;
      width.at<float>(br, bc) = (at(0.85) - at(0.25)) / 1.71F;
      widths.push_back(width.at<float>(br, bc) / upper);
    }
  }
  if (widths.size() < 6) return cv::Mat(x.size(), CV_32F, cv::Scalar(1));
  const auto calm = widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 6);
  std::nth_element(widths.begin(), calm, widths.end());
  // Sound paint's own noise: what the calmest blocks show, never more than the mode's upper side allows.
  const double noise = std::clamp(std::min(static_cast<double>(*calm), paint_spread), 0.015, 0.07);
  cv::Mat weight = cv::Mat::zeros(rows, cols, CV_32F);
  double total = 0;
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const auto at = static_cast<double>(level.at<float>(r, c));
      if (at <= 0) continue;
      // Smooth: paint, be it dull. Mottled: worn, and says nothing of the paint's own level.
      const double rough = std::max(0.0, static_cast<double>(width.at<float>(r, c)) / (at * noise) - 1.25);
      const double sound = std::exp(-rough * rough / 0.6);
      // Far from the usual level counts less: a smooth grey patch may be sealed or overlaid.
      const double usual = std::exp(-std::pow((at - 1) / 0.4, 2));
      weight.at<float>(r, c) = static_cast<float>(sound * usual);
      total += sound * usual;
    }
  }
  if (total < 3) return cv::Mat(x.size(), CV_32F, cv::Scalar(1));
  // A weak pull to the usual level where no sound paint is near.
  cv::Mat pulled(rows, cols, CV_32F);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const float w = weight.at<float>(r, c);
      pulled.at<float>(r, c) = (w * level.at<float>(r, c) + 0.03F) / (w + 0.03F);
    }
  }
  const cv::Mat blended = carried(pulled, weight + 0.03F, side * plan.mm_per_pixel, 22);
  cv::Mat full;
  cv::resize(blended, full, {cols * side, rows * side}, 0, 0, cv::INTER_LINEAR);
  return full(cv::Rect(0, 0, x.cols, x.rows)).clone();
}

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

/// Paint worn finer than the picture shows is duller where it is rougher: the level of the calmest blocks is that of
/// sound paint, where blocks differ at all.
double calm_paint(const PlanView& plan, const cv::Mat& x, double core_mm) {
  const int side = std::max(4, static_cast<int>(std::lround(12 / plan.mm_per_pixel)));
  struct Block {
    double rough, level;
  };
  std::vector<Block> blocks;
  for (int top = 0; top + side <= x.rows; top += side) {
    for (int left = 0; left + side <= x.cols; left += side) {
      double n = 0, sum = 0, square = 0;
      for (int r = top; r < top + side; ++r) {
        for (int c = left; c < left + side; ++c) {
          if (plan.ours.at<unsigned char>(r, c) == 0 || !deep(plan, r, c, core_mm)) continue;
          const auto v = static_cast<double>(x.at<float>(r, c));
          n += 1, sum += v, square += v * v;
        }
      }
      if (n < 0.7 * side * side) continue;
      const double mean = sum / n;
      if (mean < 0.7) continue;
      blocks.push_back({(square / n - mean * mean) / (mean * mean), mean});
    }
  }
  if (blocks.size() < 8) return 1;
  std::sort(blocks.begin(), blocks.end(), [](const Block& a, const Block& b) { return a.rough < b.rough; });
  const std::size_t n = std::max<std::size_t>(4, blocks.size() / 8);
  double calm = 0;
  for (std::size_t i = 0; i < n; ++i)
    calm += blocks[i].level / static_cast<double>(n);
  return calm;
}

PaintGuess guess_of(const PaintFound& found) {
  PaintGuess guess;
  guess.over_pavement = {found.ratio[0], found.ratio[1], found.ratio[2]};
  guess.spread = std::clamp(found.place.spread, 0.05, 0.12);
  return guess;
}

/// Paint and light together: several guesses at the paint, each with the light that suits it best; the pair that
/// explains the picture best is kept and refined.
std::pair<cv::Mat, PaintFound> settle_broken_light(const PlanView& plan, const cv::Mat& sharp, const PavementLook& look,
                                                   double core_mm) {
  std::vector<PaintFound> guesses;
  // Just inside the edge falls the light that falls just outside of it.
  const cv::Mat close = even_light(plan, kCloseMm);
  const Samples near = sample(plan, sharp, close, core_mm, core_mm + 1.5 * kCloseMm, trust_in_light(plan));
  guesses.push_back(find_paint_colour(near, look, 0.2));
  guesses.push_back(find_paint_colour(near, look, 1.5));
  // Paint in the sun over pavement in the sun: right wherever some of either lies in the sun.
  cv::Mat sun(plan.light.size(), CV_32FC3, cv::Scalar(look.sun[0], look.sun[1], look.sun[2]));
  const Samples sunlit = sample(plan, sharp, sun, core_mm, kAnywhere, {});
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
  PaintFound found = find_paint_colour(sample(plan, sharp, light.bare, core_mm, kAnywhere, {}), look);
  // a second look with nearly the same paint would show the same
  if (cv::norm(found.ratio - guesses[best].ratio) < kSamePaint) return {light.bare, found};
  const BrokenLight again = search.under(guess_of(found), Effort::full);
  if (again.misfit <= light.misfit + 0.02) {
    light = again;
    found = find_paint_colour(sample(plan, sharp, light.bare, core_mm, kAnywhere, {}), look);
  }
  return {light.bare, found};
}

struct LightAndPaint {
  cv::Mat bare;
  PaintFound found;
};

LightAndPaint find_light_and_paint(const PlanView& plan, const cv::Mat& sharp, const PavementLook& look,
                                   double core_mm) {
  LightAndPaint both;
  if (!look.broken) {
    both.bare = even_light(plan, kEvenMm);
    both.found = find_paint_colour(sample(plan, sharp, both.bare, core_mm, kAnywhere, {}), look);
  } else {
    std::tie(both.bare, both.found) = settle_broken_light(plan, sharp, look, core_mm);
  }
  // Sound paint scatters little; a wide mode is of pixels that are all part worn, and single photo pixels may show pure
  // paint. Where the mode is narrow they would only add their noise.
  if (!plan.fine.empty() && (!both.found.place.stands_out || both.found.place.spread > kSoundSpread))
    both.found = find_paint_colour(sample(plan, plan.fine, both.bare, core_mm, kAnywhere, {}), look);
  return both;
}

/// Share of the core where the map is more than nothing.
double share_of_core(const PlanView& plan, const cv::Mat& map, double core_mm) {
  double all = 0, in = 0;
  for (int r = 0; r < map.rows; ++r) {
    for (int c = 0; c < map.cols; ++c) {
      if (plan.ours.at<unsigned char>(r, c) == 0 || !deep(plan, r, c, core_mm)) continue;
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

}  // namespace

std::optional<Separation> separate(const PlanView& whole, double core_mm, double blur_px, const CoatReader* coats) {
  const std::optional<PavementLook> look = look_of_pavement(whole);
  if (!look) return std::nullopt;
  Separation result;
  result.look = *look;
  const cv::Mat sharp = without_blur(whole, blur_px);
  LightAndPaint both = find_light_and_paint(whole, sharp, *look, core_mm);
  const Ratio first{both.found.ratio[0], both.found.ratio[1], both.found.ratio[2]};
  std::optional<OlderCoat> older = find_older_coat(whole, both.bare, first, core_mm, blur_px, look->broken);
  // It has learned too little of symbols on a field: the field's paint, or what is left of it, looks like an older
  // coat's.
  const std::optional<CoatsSeen> seen =
      coats != nullptr && !whole.on_field ? see_coats(*coats, whole, core_mm) : std::nullopt;
  if (older && seen && colour_of_ratio(older->over_pavement, false) == colour_of_ratio(first, false) &&
      speaks_against_coats(*seen))
    older.reset();       // a strip of sun or soil tints paint, too, though not into another colour
  if (!older && seen) {  // one colour, or a step too small for colour to tell
    CoatReading reading = older_coat_of(*seen, whole, both.bare, core_mm);
    older = std::move(reading.older);
    result.open_older = reading.open;
  }
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

  Histogram inside(-1, 2, kBins), beside(-1, 2, kBins);
  std::vector<double> out;
  for (int r = 0; r < x.rows; ++r) {
    for (int c = 0; c < x.cols; ++c) {
      const double v = static_cast<double>(x.at<float>(r, c));
      if (plan.ours.at<unsigned char>(r, c) != 0 && deep(plan, r, c, core_mm))
        inside.add(v);
      else if (plan.beside.at<unsigned char>(r, c) != 0)
        beside.add(v), out.push_back(std::abs(v));
    }
  }
  const Mixture mixture = fit_mixture(inside, beside, std::max(0.03, found.place.spread));
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
  if (!out.empty()) {
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
