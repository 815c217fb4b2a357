#include "ground/seen_sizes.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

namespace {

constexpr double kStep = 0.02;                  // of all logarithms on grids: finer than any size is known
constexpr int kSmallest = 150, kLargest = 480;  // grid of log millimetres: 20 mm to 15 m
constexpr double kUnusual = 1 / 3.0;            // density of an unusual size: anywhere within a factor of twenty
constexpr double kOddOne = 0.5;                 // of a thing with a size of its own, about the common one
constexpr double kNotOnGround = 0.01;           // of a thing that a pose puts above its horizon
constexpr double kReach = 3.2;                  // standard deviations of the height that are counted
constexpr double kRootTwoPi = 2.5066282746310002;

double normal(double d, double sigma) { return std::exp(-d * d / (2 * sigma * sigma)) / (kRootTwoPi * sigma); }

std::vector<double> density_of(const SizeFamily& family) {
  std::vector<double> density;
  for (int i = kSmallest; i < kLargest; ++i) {
    double sum = family.unusual * kUnusual;
    for (const UsualSize& u : family.usual) {
      // not narrower than the grid resolves
      sum += (1 - family.unusual) * u.share * normal(i * kStep - std::log(u.mm), std::max(u.spread, kStep));
    }
    density.push_back(sum);
  }
  return density;
}

/// The size by the ground's measure; nothing when part of it is not on the ground.
std::optional<double> measured(const SizeSeen& size, const Ground& ground) {
  constexpr double kHorizon = 0.02;
  const auto on_ground = [&](ImagePoint p) { return ground.ground_from_image.depth(p) > kHorizon; };
  if (!on_ground(size.from) || !on_ground(size.to)) return std::nullopt;
  const GroundPoint d = ground.ground_from_image(size.to) - ground.ground_from_image(size.from);
  double mm = length(d);
  if (size.axis) {
    if (!on_ground(size.axis->from) || !on_ground(size.axis->to)) return std::nullopt;
    const GroundPoint along = ground.ground_from_image(size.axis->to) - ground.ground_from_image(size.axis->from);
    mm = std::abs(cross(along, d)) / std::max(1e-9, length(along));
  }
  return mm > 0 ? std::optional(std::log(mm)) : std::nullopt;
}

/// Likelihood of a family's members by the logarithm of its common size, on grid points from `first` on.
struct Common {
  int first = 0;
  std::vector<double> likelihood;
  double log_scale = 0;  ///< taken out of the likelihoods
};

struct Member {
  double size = 0, error = 0;  ///< logarithm
  bool cut = false;

  double likelihood(double common, const SizeFamily& family) const {
    if (cut)
      return family.alike * (common > size ? 1 : std::exp(-std::pow((common - size) / error, 2) / 2)) + 1 -
             family.alike;
    return family.alike * normal(size - common, error) + (1 - family.alike) * kOddOne;
  }
};

Common common_size(const SizeFamily& family, const Ground& ground) {
  std::vector<Member> members;
  Common common;
  double low = 1e300, high = -1e300;
  for (const SizeSeen& s : family.seen) {
    const auto mm = measured(s, ground);
    if (!mm) {
      common.log_scale += std::log(kNotOnGround);
      continue;
    }
    members.push_back({*mm, std::max(kStep, std::hypot(s.error, family.spread)), s.cut});
    // of what is cut off there may be any amount more
    constexpr double kMargin = 0.3, kCutMargin = 1.8;
    low = std::min(low, *mm - kMargin), high = std::max(high, *mm + (s.cut ? kCutMargin : kMargin));
  }
  if (members.empty()) return common;
  common.first = static_cast<int>(std::floor(low / kStep));
  const int last = static_cast<int>(std::ceil(high / kStep));
  double highest = -1e300;
  for (int i = common.first; i <= last; ++i) {
    double sum = 0;
    for (const Member& m : members)
      sum += std::log(m.likelihood(i * kStep, family));
    common.likelihood.push_back(sum);
    highest = std::max(highest, sum);
  }
  for (double& l : common.likelihood)
    l = std::exp(l - highest);
  common.log_scale += highest;
  return common;
}

}  // namespace

SizeLikelihood::SizeLikelihood(SizesSeen seen, double height, double sigma)
    : seen_(std::move(seen)), height_(height), sigma_(sigma) {
  for (const SizeFamily& family : seen_.families)
    usual_.push_back(density_of(family));
}

double SizeLikelihood::proportions(const Ground& ground) const {
  double sum = 0;
  for (const ProportionSeen& p : seen_.proportions) {
    const bool all_below = std::all_of(p.outline.begin(), p.outline.end(),
                                       [&](ImagePoint at) { return ground.ground_from_image.depth(at) > 0.02; });
    if (!all_below) {
      sum += std::log(kNotOnGround);
      continue;
    }
    const GroundPoint tail = ground.ground_from_image(p.tail);
    GroundPoint axis = ground.ground_from_image(p.tip) - tail;
    axis = axis * (1 / std::max(1e-9, length(axis)));
    double low_x = 1e300, high_x = -1e300, low_y = 1e300, high_y = -1e300;
    for (const ImagePoint at : p.outline) {
      const GroundPoint d = ground.ground_from_image(at) - tail;
      const double x = dot(axis, d), y = cross(axis, d);
      low_x = std::min(low_x, x), high_x = std::max(high_x, x);
      low_y = std::min(low_y, y), high_y = std::max(high_y, y);
    }
    const double off = std::log((high_y - low_y) / std::max(1e-9, high_x - low_x) / p.usual);
    constexpr double kOwnDrawing = 0.1;  // a shape that follows no drawing says nothing
    sum += std::log((1 - kOwnDrawing) * normal(off, p.spread) + kOwnDrawing * kOddOne);
  }
  return sum;
}

HeightBelief SizeLikelihood::of(const View& view, cv::Size photo) const {
  View at_one = view;
  at_one.log_height = 0;
  const Ground ground = ground_of(at_one, photo);
  HeightBelief belief;
  std::vector<Common> commons;
  for (const SizeFamily& family : seen_.families) {
    commons.push_back(common_size(family, ground));
    belief.log_likelihood += commons.back().log_scale;
  }
  const int low = static_cast<int>(std::floor((height_ - kReach * sigma_) / kStep));
  const int high = static_cast<int>(std::ceil((height_ + kReach * sigma_) / kStep));
  std::vector<double> weights;
  double total = 0;
  for (int t = low; t <= high; ++t) {
    double product = normal(t * kStep - height_, sigma_);
    for (std::size_t f = 0; f < commons.size(); ++f) {
      const Common& common = commons[f];
      if (common.likelihood.empty()) continue;
      double sum = 0;
      for (std::size_t c = 0; c < common.likelihood.size(); ++c) {
        const int size = std::clamp(common.first + static_cast<int>(c) + t - kSmallest, 0, kLargest - kSmallest - 1);
        sum += common.likelihood[c] * usual_[f][static_cast<std::size_t>(size)];
      }
      product *= sum * kStep;
    }
    weights.push_back(product);
    total += product;
  }
  belief.log_likelihood += std::log(std::max(1e-300, total * kStep)) + proportions(ground);
  double before = 0;
  bool passed = false;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const double t = (low + static_cast<int>(i)) * kStep, w = weights[i] / std::max(1e-300, total);
    belief.mean += w * t;
    belief.variance += w * t * t;
    if (!passed && before + w >= 0.5) {
      passed = true;
      belief.middle = t + kStep * ((0.5 - before) / std::max(w, 1e-12) - 0.5);
    }
    before += w;
  }
  belief.variance = std::max(kStep * kStep / 12, belief.variance - belief.mean * belief.mean);
  return belief;
}

}  // namespace lotwear
