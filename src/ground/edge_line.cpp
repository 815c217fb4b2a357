#include "ground/edge_line.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <vector>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr double kPixelsAStep = 0.75;   // along a profile; photos hold no detail finer than a pixel
constexpr double kTukey = 4.685;        // 95 % efficiency for normal errors (Holland and Welsch 1977)
constexpr double kMadToSigma = 1.4826;  // of a normal distribution
constexpr double kLeastSpread = 0.03;   // pixels; interpolation between pixels is no better
constexpr std::size_t kFewestCrossings = 5;

/// The photo's light between pixel centres, in the file's own linear primaries: edges need no colour matrix.
class Light {
 public:
  explicit Light(const Photo& photo) : rgb_(photo.rgb), linear_(photo.space.linear) {}

  bool holds(ImagePoint p) const { return p.x >= 0.5 && p.y >= 0.5 && p.x < rgb_.cols - 0.5 && p.y < rgb_.rows - 0.5; }

  cv::Vec3f operator()(ImagePoint p) const {
    const double x = p.x - 0.5, y = p.y - 0.5;
    const int column = static_cast<int>(x), row = static_cast<int>(y);
    const auto right = static_cast<float>(x - column), down = static_cast<float>(y - row);
    const auto* upper = rgb_.ptr<cv::Vec3b>(row) + column;
    const auto* lower = rgb_.ptr<cv::Vec3b>(std::min(row + 1, rgb_.rows - 1)) + column;
    const int next = column + 1 < rgb_.cols ? 1 : 0;
    cv::Vec3f light;
    for (int c = 0; c < 3; ++c) {
      const float up = linear_[upper[0][c]] * (1 - right) + linear_[upper[next][c]] * right;
      const float low = linear_[lower[0][c]] * (1 - right) + linear_[lower[next][c]] * right;
      light[c] = up * (1 - down) + low * down;
    }
    return light;
  }

 private:
  const cv::Mat& rgb_;
  const std::array<float, 256>& linear_;
};

/// Profile `at` pixels along the segment: right side first, left side last.
struct Profile {
  double at = 0;
  std::vector<cv::Vec3f> light;
  cv::Vec3f right, left;  ///< means of the outer quarters
};

struct Segment {
  ImagePoint middle, along;  ///< unit direction
  double length = 0;

  Segment(ImagePoint a, ImagePoint b) : middle((a + b) * 0.5), length(lotwear::length(b - a)) {
    along = (b - a) * (1 / length);
  }
  ImagePoint left() const { return {along.y, -along.x}; }
  ImagePoint point(double s, double t) const { return middle + along * s + left() * t; }
};

std::vector<Profile> profiles_across(const Light& light, const Segment& segment, double reach, int most) {
  const int count = std::clamp(static_cast<int>(segment.length), 2, most);
  const int half = std::max(3, static_cast<int>(std::ceil(reach / kPixelsAStep)));
  const int quarter = std::max(1, half / 2);
  std::vector<Profile> profiles;
  for (int i = 0; i < count; ++i) {
    Profile profile;
    profile.at = segment.length * ((i + 0.5) / count - 0.5);
    if (!light.holds(segment.point(profile.at, -reach)) || !light.holds(segment.point(profile.at, reach))) continue;
    for (int k = -half; k <= half; ++k)
      profile.light.push_back(light(segment.point(profile.at, reach * k / half)));
    for (int k = 0; k < quarter; ++k) {
      profile.right += profile.light[static_cast<std::size_t>(k)] * (1.F / static_cast<float>(quarter));
      profile.left +=
          profile.light[profile.light.size() - 1 - static_cast<std::size_t>(k)] * (1.F / static_cast<float>(quarter));
    }
    profiles.push_back(std::move(profile));
  }
  return profiles;
}

struct Level {
  double right = 0, left = 0;  ///< of the profile's two sides along the weighted channels
  double middle() const { return (right + left) / 2; }
};

/// The profile's step pair around the half-way crossing nearest to its middle: the step before it.
std::optional<std::size_t> crossing_step(const Profile& profile, const cv::Vec3f& weight, const Level& level) {
  const auto half = static_cast<double>(profile.light.size() / 2);
  std::optional<std::size_t> nearest;
  for (std::size_t k = 0; k + 1 < profile.light.size(); ++k) {
    const bool crosses = static_cast<double>(profile.light[k].dot(weight)) < level.middle() &&
                         static_cast<double>(profile.light[k + 1].dot(weight)) >= level.middle();
    if (!crosses) continue;
    const auto away = [&](std::size_t step) { return std::abs(static_cast<double>(step) + 0.5 - half); };
    if (!nearest || away(k) < away(*nearest)) nearest = k;
  }
  return nearest;
}

/// Half-way crossing of a profile, pixels left of the segment. Between the two steps around it the photo is looked at
/// again: a straight line between steps would pull every crossing of an edge along the pixel grid the same way.
std::optional<double> half_way(const Light& light, const Segment& segment, const Profile& profile, double step,
                               const cv::Vec3f& weight, double least_difference) {
  const Level level{static_cast<double>(profile.right.dot(weight)), static_cast<double>(profile.left.dot(weight))};
  const double both = cv::norm(profile.right + profile.left);
  if (level.left - level.right < least_difference * std::max(1e-4, both)) return std::nullopt;
  const auto k = crossing_step(profile, weight, level);
  if (!k) return std::nullopt;
  const auto over = [&](const cv::Vec3f& seen) { return static_cast<double>(seen.dot(weight)) - level.middle(); };
  double low = (static_cast<double>(*k) - static_cast<double>(profile.light.size() / 2)) * step, high = low + step;
  double under = over(profile.light[*k]), above = over(profile.light[*k + 1]);
  for (int round = 0; round < 2; ++round) {
    const double t = low + (high - low) * -under / (above - under);
    const double here = over(light(segment.point(profile.at, t)));
    (here < 0 ? low : high) = t;
    (here < 0 ? under : above) = here;
  }
  return above > under ? low + (high - low) * -under / (above - under) : low;
}

struct Crossing {
  double s = 0, t = 0;
};

struct Line {
  double offset = 0, slope = 0;  ///< t = offset + slope * s
  double spread = 0;             ///< robust standard deviation of the crossings about the line
  double offset_error = 0, slope_error = 0;
  double agreeing = 0;  ///< crossings within the robust limits
};

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// Neighbouring crossings share blur and torn paint: how many of them count as one.
double crossings_a_sample(const std::vector<double>& residuals, double limit) {
  double products = 0, squares = 0;
  for (std::size_t i = 0; i + 1 < residuals.size(); ++i) {
    if (std::abs(residuals[i]) > limit || std::abs(residuals[i + 1]) > limit) continue;
    products += residuals[i] * residuals[i + 1];
    squares += (residuals[i] * residuals[i] + residuals[i + 1] * residuals[i + 1]) / 2;
  }
  const double correlation = squares > 0 ? std::clamp(products / squares, 0.0, 0.9) : 0.0;
  return (1 + correlation) / (1 - correlation);
}

Line robust_line(const std::vector<Crossing>& crossings) {
  Line line;
  std::vector<double> residuals(crossings.size()), weights(crossings.size(), 1.0);
  double sw = 0, ss = 0;
  constexpr int kRounds = 12;
  for (int round = 0; round < kRounds; ++round) {
    double s1 = 0, t1 = 0, st = 0;
    sw = ss = 0;
    for (std::size_t i = 0; i < crossings.size(); ++i) {
      sw += weights[i];
      s1 += weights[i] * crossings[i].s;
      t1 += weights[i] * crossings[i].t;
    }
    const double s_mean = s1 / sw;
    for (std::size_t i = 0; i < crossings.size(); ++i) {
      ss += weights[i] * (crossings[i].s - s_mean) * (crossings[i].s - s_mean);
      st += weights[i] * (crossings[i].s - s_mean) * (crossings[i].t - t1 / sw);
    }
    line.slope = ss > 0 ? st / ss : 0;
    line.offset = t1 / sw - line.slope * s_mean;
    std::vector<double> sizes;
    for (std::size_t i = 0; i < crossings.size(); ++i) {
      residuals[i] = crossings[i].t - line.offset - line.slope * crossings[i].s;
      sizes.push_back(std::abs(residuals[i]));
    }
    line.spread = std::max(kLeastSpread, kMadToSigma * median(sizes));
    if (round + 1 == kRounds) break;
    for (std::size_t i = 0; i < crossings.size(); ++i) {
      const double u = residuals[i] / (kTukey * line.spread);
      // Least absolute values first: it finds the majority; Tukey's biweight then forgets the rest.
      weights[i] =
          round < 5 ? 1 / std::max(std::abs(residuals[i]), 0.1) : (std::abs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0.0);
    }
    if (std::count_if(weights.begin(), weights.end(), [](double w) { return w > 0; }) < 3) {
      std::fill(weights.begin(), weights.end(), 1.0);
    }
  }
  const double limit = kTukey * line.spread;
  line.agreeing = static_cast<double>(
      std::count_if(residuals.begin(), residuals.end(), [&](double r) { return std::abs(r) < limit; }));
  const double inflation = std::sqrt(crossings_a_sample(residuals, limit));
  line.offset_error = line.spread * inflation / std::sqrt(std::max(1.0, sw));
  line.slope_error = ss > 0 ? line.spread * inflation / std::sqrt(ss) : 1.0;
  return line;
}

struct Fit {
  Segment segment;
  Line line;
  double profiles = 0;
  double left_over_right = 1;
};

std::optional<Fit> fit_once(const Light& light, const Segment& segment, double reach, const EdgeSearch& search) {
  const std::vector<Profile> profiles = profiles_across(light, segment, reach, search.most_profiles);
  if (profiles.size() < kFewestCrossings) return std::nullopt;
  cv::Vec3f left, right;
  for (const Profile& profile : profiles) {
    left += profile.left;
    right += profile.right;
  }
  const double difference = cv::norm(left - right);
  if (difference < search.least_difference * cv::norm(left + right)) return std::nullopt;
  const cv::Vec3f weight = (left - right) * static_cast<float>(1 / difference);

  std::vector<Crossing> crossings;
  for (const Profile& profile : profiles) {
    const double step = reach / static_cast<double>(profile.light.size() / 2);
    const auto t = half_way(light, segment, profile, step, weight, search.least_difference);
    if (t) crossings.push_back({profile.at, *t});
  }
  const auto count = static_cast<double>(profiles.size());
  if (crossings.size() < kFewestCrossings || static_cast<double>(crossings.size()) < search.least_crossings * count) {
    return std::nullopt;
  }
  const Line line = robust_line(crossings);
  const cv::Vec3f luminance(0.2126F, 0.7152F, 0.0722F);  // IEC 61966-2-1
  return Fit{segment, line, count,
             static_cast<double>(left.dot(luminance)) / std::max(1e-6, static_cast<double>(right.dot(luminance)))};
}

}  // namespace

std::optional<EdgeLine> fit_edge(const Photo& photo, ImagePoint a, ImagePoint b, const EdgeSearch& search) {
  require(search.reach_px > 0 && search.most_profiles > 1, "an edge search looks somewhere");
  if (length(b - a) < 4) return std::nullopt;
  const Light light(photo);
  const Segment guess(a, b);
  const auto first = fit_once(light, guess, search.reach_px, search);
  if (!first || std::abs(first->line.slope) > 0.5) return std::nullopt;
  // Again along what was found: profiles square to the edge, centred on it, half as long where that is still enough.
  const auto at = [](const Fit& fit, double s) { return fit.segment.point(s, fit.line.offset + fit.line.slope * s); };
  const Segment closer(at(*first, -guess.length / 2), at(*first, guess.length / 2));
  const auto second = fit_once(light, closer, std::min(search.reach_px, std::max(3.0, search.reach_px * 0.6)), search);
  if (!second || second->line.agreeing < search.least_crossings * second->profiles) return std::nullopt;
  return EdgeLine{at(*second, -closer.length / 2), at(*second, closer.length / 2),           second->line.offset_error,
                  second->line.slope_error,        second->line.agreeing / second->profiles, second->left_over_right};
}

std::optional<ImagePoint> meeting(const EdgeLine& a, const EdgeLine& b) {
  const ImagePoint u = a.to - a.from, v = b.to - b.from;
  const double turned = cross(u, v);
  if (std::abs(turned) < 0.05 * length(u) * length(v))
    return std::nullopt;  // 3 degrees: the error along would be 20 times
  return a.from + u * (cross(b.from - a.from, v) / turned);
}

}  // namespace lotwear
