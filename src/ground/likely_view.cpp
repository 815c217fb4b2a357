#include "ground/likely_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <optional>

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi, kDegree = kPi / 180;

// How a phone is held (common practice, no source): from straight down over a symbol at one's feet to well ahead for a
// row of stalls; tails for the photo taken anyhow.
constexpr double kUsualPitch = 35 * kDegree, kPitchSigma = 20 * kDegree, kAnyPitch = 0.15;
constexpr double kLeanSigma = 3 * kDegree, kAnyLeanSigma = 12 * kDegree, kAnyLean = 0.15;
constexpr double kHandHeightMm = 1500, kHandHeightSigma = 0.17;
constexpr double kFocalKnown = 0.02, kFocalGuessed = 0.15;
constexpr double kLowestPitch = -15 * kDegree, kHighestPitch = 100 * kDegree, kMostLean = 25 * kDegree;

// Edges: shares of directions found on lots (estimate, no source), and how straight lines are painted.
constexpr double kNoPartner = 0.35;  // arrow heads, letters, kerbs
constexpr double kSquare = 0.2;      // of the partners: at right angles; the rest parallel
// Two edges of one stripe are parallel to a tenth of a degree, stripes of one crew to half a degree, of two crews
// worse. One tolerance for all would itself prefer flat or steep views, under which the spread in the photo stretches
// to fit it.
constexpr std::array<double, 3> kPaintedStraight = {0.12 * kDegree, 0.4 * kDegree, 1.3 * kDegree};
// Each pair of edges is counted from either end, which is right for many partners and twice too much for two. At 0.75
// stated errors of synthetic lots are honest (root mean square 0.4 to 0.8 of what is stated); at 1 some kinds reach 1.
constexpr double kOnceForBoth = 0.75;
constexpr double kStrayEdge = 0.2;  // of an object's edges: another thing's edge, or a rim that wear made
constexpr double kLensTurn =
    0.0015;  // radians; what is left of a lens's bend turns edges near the corners by this much
constexpr double kFlattestGround = 0.05, kFlatSpread = 0.02;  // steepness of ground 30 m away, and how sharply it ends
// Where a lot ends in the picture right across, it mostly ends some camera heights away and not at the photographer's
// feet (common practice, no source): nearer than this is unlikely, with this spread of the logarithm.
constexpr double kLotsEnd = 4.5, kLotsEndSpread = 0.6;
constexpr double kHorizonDoubt =
    2.5;  // most that one point can weigh, natural logarithm: the finder may be wrong there

constexpr int kFree = 3;  // pitch, lean, log focal
using Pose = cv::Vec3d;

View view_of(const Pose& p) { return {p[0], p[1], p[2], 0}; }

constexpr double kRootTwoPi = 2.5066282746310002;

double normal_density(double d, double variance) {
  const double half_square = d * d / (2 * variance);
  return half_square > 18 ? 0 : std::exp(-half_square) / (kRootTwoPi * std::sqrt(variance));
}

/// Angle between lines, in [-90, 90) degrees.
double line_angle(double a) { return a - kPi * std::floor(a / kPi + 0.5); }

using Ray = cv::Vec3d;

/// An edge as rays relative to a focal length of one pixel: scaled by the focal length when a pose is tried.
struct SeenEdge {
  ImagePoint middle, along;  ///< from the photo's middle; unit direction
  double offset_error = 0, angle_error = 0;
};

/// An edge's direction on the ground.
struct Laid {
  double direction = 0, variance = 0;
  double squeeze = 0;  ///< how much the direction on the ground turns with the direction in the photo
};

/// Lays edges of the photo on the ground of one pose.
class Laying {
 public:
  explicit Laying(const Pose& p) : focal_(std::exp(p[2])) {
    const auto n = down_of(view_of(p));
    down_ = Ray(n[0], n[1], n[2]);
    ex_ = Ray(1, 0, 0) - n[0] * down_;
    ex_ *= 1 / cv::norm(ex_);
    ey_ = down_.cross(ex_);
  }

  Laid laid(const SeenEdge& e, double blunt) const {
    constexpr double kTurn = 1e-4, kShift = 0.1;
    const double phi = direction(e.middle, e.along);
    const ImagePoint side{-e.along.y, e.along.x};
    const double by_turn = line_angle(direction(e.middle, e.along + side * kTurn) - phi) / kTurn;
    const double by_shift = line_angle(direction(e.middle + side * kShift, e.along) - phi) / kShift;
    const double turned = by_turn * e.angle_error, shifted = by_shift * e.offset_error;
    return {phi, turned * turned + shifted * shifted + blunt * blunt, std::abs(by_turn)};
  }

 private:
  double direction(ImagePoint middle, ImagePoint along) const {
    const Ray ray(middle.x / focal_, middle.y / focal_, 1), step(along.x, along.y, 0);
    const Ray on_ground = down_.cross(ray.cross(step));
    return std::atan2(on_ground.dot(ey_), on_ground.dot(ex_));
  }

  double focal_;
  Ray down_, ex_, ey_;
};

struct ObjectEdge {
  SeenEdge seen;
  double drawn = 0, tolerance = 0;
  std::vector<double> by_proportion;
};

struct LaidObject {
  Laid whole;
  double log_likelihood = 0;  ///< of its edges once it is turned as fits best
};

/// Solves a positive definite system in place by Cholesky's way; `a` holds the lower half, row by row.
void solve(std::vector<double>& a, std::vector<double>& b) {
  const std::size_t n = b.size();
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = a[i * n + j];
      for (std::size_t k = 0; k < j; ++k)
        sum -= a[i * n + k] * a[j * n + k];
      a[i * n + j] = i == j ? std::sqrt(std::max(sum, 1e-12)) : sum / a[j * n + j];
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t k = 0; k < i; ++k)
      b[i] -= a[i * n + k] * b[k];
    b[i] /= a[i * n + i];
  }
  for (std::size_t i = n; i-- > 0;) {
    for (std::size_t k = i + 1; k < n; ++k)
      b[i] -= a[k * n + i] * b[k];
    b[i] /= a[i * n + i];
  }
}

/// `object`: its surest edge first, the same one under every pose, or the likelihood would jump from pose to pose.
/// The object's turn and proportions that fit its edges best, strays among them outvoted; how well they fit then.
LaidObject laid_object(const std::vector<ObjectEdge>& object, const Laying& laying, double blunt) {
  constexpr std::size_t surest = 0;
  std::vector<Laid> laid;
  for (const ObjectEdge& e : object) {
    laid.push_back(laying.laid(e.seen, blunt));
    laid.back().variance += e.tolerance * e.tolerance;
  }
  if (object.size() == 1)
    return {{line_angle(laid[0].direction - object[0].drawn), laid[0].variance, laid[0].squeeze}, 0};
  const std::size_t unknowns = 1 + object.front().by_proportion.size();
  const auto turned_by = [&](std::size_t k, std::size_t i) { return i == 0 ? 1.0 : object[k].by_proportion[i - 1]; };
  std::vector<double> u(unknowns, 0.0);
  u[0] = laid[surest].direction - object[surest].drawn;
  const auto residual = [&](std::size_t k) {
    double expected = object[k].drawn;
    for (std::size_t i = 0; i < unknowns; ++i)
      expected += turned_by(k, i) * u[i];
    return line_angle(laid[k].direction - expected);
  };
  const auto stray = [&](std::size_t k) { return kStrayEdge / kPi / laid[k].squeeze; };
  const auto fitting = [&](std::size_t k, double blur) {
    return (1 - kStrayEdge) * normal_density(residual(k), laid[k].variance * blur * blur);
  };
  // Nothing is called a stray before turn and proportions had a chance to reach it: tolerances start wide.
  for (const double blur : {60.0, 20.0, 7.0, 2.5, 1.0, 1.0}) {
    std::vector<double> normal(unknowns * unknowns, 0.0), gradient(unknowns, 0.0);
    normal[0] = 1e-9;
    for (std::size_t i = 1; i < unknowns; ++i)
      normal[i * unknowns + i] = 1, gradient[i] = -u[i];  // proportions are in standard deviations
    for (std::size_t k = 0; k < object.size(); ++k) {
      const double density = fitting(k, blur), r = residual(k);
      const double weight = density / (density + stray(k)) / (laid[k].variance * blur * blur);
      for (std::size_t i = 0; i < unknowns; ++i) {
        gradient[i] += weight * r * turned_by(k, i);
        for (std::size_t j = 0; j <= i; ++j)
          normal[i * unknowns + j] += weight * turned_by(k, i) * turned_by(k, j);
      }
    }
    solve(normal, gradient);
    for (std::size_t i = 0; i < unknowns; ++i)
      u[i] += gradient[i];
  }
  LaidObject found;
  for (std::size_t i = 1; i < unknowns; ++i)
    found.log_likelihood -= u[i] * u[i] / 2;
  for (std::size_t k = 0; k < object.size(); ++k) {
    if (k == surest) continue;  // its direction is the object's: it goes into the comparison with others
    found.log_likelihood += std::log(laid[k].squeeze * (fitting(k, 1) + stray(k)));
  }
  found.whole = {line_angle(u[0]), laid[surest].variance, laid[surest].squeeze};
  return found;
}

class Posterior {
 public:
  Posterior(const ViewPrior& prior, const PaintSeen& seen, const GroundTop& top, cv::Size photo)
      : prior_(prior), top_(top), photo_(photo) {
    if (!seen.sizes.empty() && !prior.measured) {
      sizes_.emplace(seen.sizes, prior.belief.view.log_height, std::sqrt(prior.belief.covariance(3, 3)));
    }
    for (const EdgeLine& e : seen.edges)
      strays_.push_back(seen_edge(e));
    for (const DrawnObject& object : seen.objects) {
      if (object.empty()) continue;
      objects_.push_back({});
      for (const DrawnEdge& e : object)
        objects_.back().push_back({seen_edge(e.seen), e.drawn, e.tolerance, e.by_proportion});
      const auto error = [](const ObjectEdge& e) { return std::hypot(e.seen.angle_error, e.tolerance); };
      std::stable_sort(objects_.back().begin(), objects_.back().end(),
                       [&](const ObjectEdge& a, const ObjectEdge& b) { return error(a) < error(b); });
    }
    if (prior.measured) {
      const cv::Matx33d shared = prior.belief.covariance.get_minor<3, 3>(0, 0);
      information_ = shared.inv(cv::DECOMP_CHOLESKY);
    }
  }

  double prior(const Pose& p) const {
    if (p[0] < kLowestPitch || p[0] > kHighestPitch || std::abs(p[1]) > kMostLean) {
      if (!prior_.measured) return -1e9;
    }
    const View& m = prior_.belief.view;
    const Pose d = p - Pose(m.pitch, m.lean, m.log_focal);
    if (prior_.measured) return -0.5 * d.dot(information_ * d);
    const double pitch = (1 - kAnyPitch) * normal_density(d[0], kPitchSigma * kPitchSigma) + kAnyPitch / kPi;
    const double lean = (1 - kAnyLean) * normal_density(d[1], kLeanSigma * kLeanSigma) +
                        kAnyLean * normal_density(d[1], kAnyLeanSigma * kAnyLeanSigma);
    const double focal = d[2] / std::sqrt(prior_.belief.covariance(2, 2));
    return std::log(pitch) + std::log(std::max(lean, 1e-300)) - focal * focal / 2;
  }

  /// `blunt`: at least this error of every direction on the ground, radians.
  double log_probability(const Pose& p, double blunt) const {
    const double before = prior(p);
    if (before < -1e8) return before;
    const double sum = before + horizon(p) + edges(p, blunt);
    return sizes_ ? sum + sizes_->of(view_of(p), photo_).log_likelihood : sum;
  }

  /// The height once a pose is given.
  HeightBelief height(const Pose& p) const {
    if (sizes_) return sizes_->of(view_of(p), photo_);
    const double middle = prior_.belief.view.log_height;
    return {0, middle, middle, prior_.belief.covariance(3, 3)};
  }

 private:
  double horizon(const Pose& p) const {
    const View view = view_of(p);
    double sum = 0;
    std::vector<double> steep;
    for (const ImagePoint g : top_.points) {
      steep.push_back(steepness(view, photo_, g));
      const double missing = std::max(0.0, kFlattestGround - steep.back()) / kFlatSpread;
      sum -= std::min(kHorizonDoubt, missing * missing / 2);
    }
    if (!top_.is_end) return sum;
    std::nth_element(steep.begin(), steep.begin() + static_cast<std::ptrdiff_t>(steep.size() / 2), steep.end());
    const double away = 1 / std::max(kFlattestGround, steep[steep.size() / 2]);  // of the camera's height
    const double near = std::max(0.0, std::log(kLotsEnd / away) / kLotsEndSpread);
    return sum - std::min(kHorizonDoubt, near * near / 2);
  }

  SeenEdge seen_edge(const EdgeLine& e) const {
    const ImagePoint centre{photo_.width / 2.0, photo_.height / 2.0}, d = e.to - e.from;
    return {(e.from + e.to) * 0.5 - centre, d * (1 / length(d)), e.offset_error, std::hypot(e.angle_error, kLensTurn)};
  }

  double edges(const Pose& p, double blunt) const {
    if (strays_.size() + objects_.size() < 1) return 0;
    const Laying laying(p);
    std::vector<Laid> laid;
    laid.reserve(strays_.size() + objects_.size());
    for (const SeenEdge& e : strays_)
      laid.push_back(laying.laid(e, blunt));
    double sum = 0;
    for (const std::vector<ObjectEdge>& object : objects_) {
      const auto [whole, log_likelihood] = laid_object(object, laying, blunt);
      laid.push_back(whole);
      sum += log_likelihood;
    }
    return sum + together(laid, blunt);
  }

  /// How well directions of strangers agree.
  static double together(const std::vector<Laid>& laid, double blunt) {
    if (laid.size() < 2) return 0;
    const std::size_t tolerances = blunt > kPaintedStraight.back() / 2 ? 1 : kPaintedStraight.size();
    const double share = 1 / static_cast<double>(tolerances);
    std::vector<double> partners(laid.size(), 0);
    for (std::size_t i = 0; i < laid.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const double apart = line_angle(laid[i].direction - laid[j].direction);
        const double from_square = std::abs(apart) - kPi / 2;
        const double both = laid[i].variance + laid[j].variance;
        double density = 0;
        for (std::size_t k = 0; k < tolerances; ++k) {
          const double variance = both + kPaintedStraight[k] * kPaintedStraight[k];
          density += share * ((1 - kSquare) * normal_density(apart, variance) +
                              kSquare * normal_density(from_square, variance));
        }
        partners[i] += density;
        partners[j] += density;
      }
    }
    double sum = 0;
    const auto others = static_cast<double>(laid.size() - 1);
    for (std::size_t i = 0; i < laid.size(); ++i) {
      sum += std::log(kNoPartner / kPi + (1 - kNoPartner) * laid[i].squeeze * partners[i] / others);
    }
    return kOnceForBoth * sum;
  }

  const ViewPrior& prior_;
  const GroundTop& top_;
  cv::Size photo_;
  std::vector<SeenEdge> strays_;
  std::vector<std::vector<ObjectEdge>> objects_;
  cv::Matx33d information_;
  std::optional<SizeLikelihood> sizes_;
};

struct Answer {
  Pose at;
  double log_probability = -1e300;
};

/// Climbs by trying steps both ways, halving them.
Answer climb(const Posterior& posterior, Pose at, double first_step, double last_step, double blunt,
             const std::vector<Pose>& ways) {
  Answer best{at, posterior.log_probability(at, blunt)};
  for (double step = first_step; step > last_step; step /= 2) {
    for (bool moved = true; moved;) {
      moved = false;
      for (const Pose& way : ways) {
        for (const double sign : {1.0, -1.0}) {
          const Pose next = best.at + way * (sign * step);
          const double there = posterior.log_probability(next, blunt);
          if (there <= best.log_probability + 1e-9) continue;
          best = {next, there};
          moved = true;
        }
      }
    }
  }
  return best;
}

/// Each unknown alone and pitch together with each other one: where ridges run.
std::vector<Pose> all_ways(double focal_step) {
  return {Pose(1, 0, 0),  Pose(0, 1, 0),          Pose(0, 0, focal_step), Pose(1, 1, 0),
          Pose(1, -1, 0), Pose(1, 0, focal_step), Pose(1, 0, -focal_step)};
}

constexpr double kGridStep = 2 * kDegree, kBluntGrid = 1.6 * kDegree, kBluntMiddle = 0.7 * kDegree;
constexpr double kLowestGridPitch = -9 * kDegree, kMostGridLean = 10 * kDegree;
constexpr std::size_t kRivals = 6;

/// Hilltops of the blunt landscape, highest first.
std::vector<Answer> grid_answers(const Posterior& posterior, const ViewPrior& prior) {
  const View& m = prior.belief.view;
  const double focal_sigma = std::sqrt(prior.belief.covariance(2, 2));
  std::vector<double> focals{m.log_focal};
  if (focal_sigma > 0.05) {
    for (const double by : {-1.2, -0.6, 0.6, 1.2})
      focals.push_back(m.log_focal + by * focal_sigma);
  }
  const int pitches = static_cast<int>((kHighestPitch - kLowestGridPitch) / kGridStep) + 1;
  const int leans = 2 * static_cast<int>(kMostGridLean / kGridStep) + 1;
  std::vector<Answer> tops;
  for (const double focal : focals) {
    cv::Mat_<double> value(pitches, leans);
    const auto pose = [&](int i, int j) {
      return Pose(kLowestGridPitch + i * kGridStep, (j - leans / 2) * kGridStep, focal);
    };
    for (int i = 0; i < pitches; ++i) {
      for (int j = 0; j < leans; ++j)
        value(i, j) = posterior.log_probability(pose(i, j), kBluntGrid);
    }
    cv::Mat around;
    cv::dilate(value, around, cv::Mat::ones(3, 3, CV_8U));
    for (int i = 0; i < pitches; ++i) {
      for (int j = 0; j < leans; ++j) {
        if (value(i, j) >= around.at<double>(i, j)) tops.push_back({pose(i, j), value(i, j)});
      }
    }
  }
  std::stable_sort(tops.begin(), tops.end(),
                   [](const Answer& a, const Answer& b) { return a.log_probability > b.log_probability; });
  std::vector<Answer> apart;
  for (const Answer& a : tops) {
    const bool near = std::any_of(apart.begin(), apart.end(), [&](const Answer& b) {
      return std::hypot(a.at[0] - b.at[0], a.at[1] - b.at[1]) < 2.5 * kGridStep;
    });
    if (!near) apart.push_back(a);
    if (apart.size() == kRivals) break;
  }
  return apart;
}

/// Inverse curvature, kept between what the prior allows and what pictures can give.
cv::Matx33d spread_at(const Posterior& posterior, const Pose& at, const cv::Vec3d& at_most) {
  const Pose steps(0.15 * kDegree, 0.15 * kDegree, 0.004);
  cv::Matx33d curvature;
  const auto value = [&](const Pose& p) { return -posterior.log_probability(p, 0); };
  for (int i = 0; i < kFree; ++i) {
    for (int j = 0; j <= i; ++j) {
      Pose a, b;
      a[i] = steps[i];
      b[j] = steps[j];
      curvature(i, j) = curvature(j, i) =
          (value(at + a + b) - value(at + a - b) - value(at - a + b) + value(at - a - b)) / (4 * steps[i] * steps[j]);
    }
  }
  // In units of the prior's widths, so that radians and logarithms compare.
  cv::Matx33d scaled;
  for (int i = 0; i < kFree; ++i) {
    for (int j = 0; j < kFree; ++j)
      scaled(i, j) = curvature(i, j) * at_most[i] * at_most[j];
  }
  cv::Vec3d values;
  cv::Matx33d vectors;
  cv::eigen(scaled, values, vectors);
  cv::Matx33d spread = cv::Matx33d::zeros();
  for (int k = 0; k < kFree; ++k) {
    const double variance = 1 / std::clamp(values[k], 1.0, 1e6);
    for (int i = 0; i < kFree; ++i) {
      for (int j = 0; j < kFree; ++j) {
        spread(i, j) += variance * vectors(k, i) * vectors(k, j) * at_most[i] * at_most[j];
      }
    }
  }
  return spread;
}

/// The ridge of the posterior along pitch. Few edges leave a ridge that is long, bent and flat on top; its curvature at
/// the highest point says nothing about its length. The height goes with it: what sizes say depends on the tilt.
struct Ridge {
  Pose middle;  ///< the highest point, or the mean where the top is flat
  double log_height = 0;
  cv::Matx44d spread;
};

cv::Vec4d with_height(const Pose& p, double log_height) { return {p[0], p[1], p[2], log_height}; }

/// How the height follows each of the others.
Pose height_slopes(const Posterior& posterior, const Pose& at) {
  const Pose steps(0.3 * kDegree, 0.3 * kDegree, 0.01);
  Pose slopes;
  for (int i = 0; i < kFree; ++i) {
    Pose by;
    by[i] = steps[i];
    slopes[i] = (posterior.height(at + by).mean - posterior.height(at - by).mean) / (2 * steps[i]);
  }
  return slopes;
}

/// A spread of poses with the height that goes with them.
cv::Matx44d with_height(const cv::Matx33d& spread, const Pose& slopes) {
  cv::Matx44d whole = cv::Matx44d::zeros();
  const Pose shared = spread * slopes;
  for (int i = 0; i < kFree; ++i) {
    for (int j = 0; j < kFree; ++j)
      whole(i, j) = spread(i, j);
    whole(i, 3) = whole(3, i) = shared[i];
  }
  whole(3, 3) = slopes.dot(shared);
  return whole;
}

Ridge along_ridge(const Posterior& posterior, const Answer& best, const cv::Matx33d& curved, double focal_step) {
  const double sigma = std::sqrt(curved(0, 0));
  const std::vector<Pose> ways{Pose(0, 1, 0), Pose(0, 0, focal_step)};
  std::vector<Answer> points{best};
  for (const double side : {-1.0, 1.0}) {
    Pose before = best.at, slope(side, 0, 0);
    double reached = 0;
    for (const double far : {0.5, 1.0, 1.5, 2.0, 3.0, 4.5, 6.5, 10.0, 15.0, 22.0}) {
      const double step = (far - reached) * sigma;
      if (reached > 3 && std::abs(before[0] - best.at[0]) > 40 * kDegree) break;
      const Answer here = climb(posterior, before + slope * step, 0.3 * step, 0.03 * step, 0, ways);
      points.push_back(here);
      slope = (here.at - before) * (1 / step);
      before = here.at;
      reached = far;
      if (here.log_probability < best.log_probability - 6) break;
    }
  }
  std::sort(points.begin(), points.end(), [](const Answer& a, const Answer& b) { return a.at[0] < b.at[0]; });
  double mass = 0;
  Pose mean;
  std::vector<double> weights(points.size(), 0);
  for (std::size_t k = 0; k < points.size(); ++k) {
    const double before = k > 0 ? points[k].at[0] - points[k - 1].at[0] : 0;
    const double after = k + 1 < points.size() ? points[k + 1].at[0] - points[k].at[0] : 0;
    weights[k] = (before + after) / 2 * std::exp(points[k].log_probability - best.log_probability);
    mass += weights[k];
    mean += weights[k] * points[k].at;
  }
  Ridge ridge;
  ridge.middle = best.at;
  ridge.spread = cv::Matx44d::zeros();
  constexpr double kFlatTop = 1.5;
  if (mass > 0 && posterior.log_probability(mean * (1 / mass), 0) > best.log_probability - kFlatTop) {
    ridge.middle = mean * (1 / mass);
  }
  ridge.log_height = posterior.height(ridge.middle).middle;
  if (!(mass > 0)) {
    weights.assign(points.size(), 1);
    mass = static_cast<double>(points.size());
  }
  for (std::size_t k = 0; k < points.size(); ++k) {
    const HeightBelief height = posterior.height(points[k].at);
    const cv::Vec4d d = with_height(points[k].at, height.mean) - with_height(ridge.middle, ridge.log_height);
    ridge.spread += weights[k] / mass * (d * d.t());
    ridge.spread(3, 3) += weights[k] / mass * height.variance;
  }
  // Across the ridge the curvature holds: what is left of it once pitch is given.
  cv::Matx33d across = cv::Matx33d::zeros();
  for (int i = 1; i < kFree; ++i) {
    for (int j = 1; j < kFree; ++j)
      across(i, j) = curved(i, j) - curved(i, 0) * curved(0, j) / curved(0, 0);
  }
  ridge.spread += with_height(across, height_slopes(posterior, ridge.middle));
  return ridge;
}

/// The whole belief once pitch, lean and focal length have moved: the height follows as far as it hangs on them.
ViewBelief updated(const ViewBelief& prior, const Pose& at, const cv::Matx33d& spread) {
  const cv::Matx33d before = prior.covariance.get_minor<3, 3>(0, 0);
  const cv::Vec3d shared(prior.covariance(3, 0), prior.covariance(3, 1), prior.covariance(3, 2));
  const cv::Vec3d gain = before.inv(cv::DECOMP_SVD) * shared;
  const cv::Vec3d moved = at - cv::Vec3d(prior.view.pitch, prior.view.lean, prior.view.log_focal);
  ViewBelief after;
  after.view = {at[0], at[1], at[2], prior.view.log_height + gain.dot(moved)};
  after.covariance = cv::Matx44d::zeros();
  const cv::Vec3d with_height = spread * gain;
  for (int i = 0; i < kFree; ++i) {
    for (int j = 0; j < kFree; ++j)
      after.covariance(i, j) = spread(i, j);
    after.covariance(i, 3) = after.covariance(3, i) = with_height[i];
  }
  after.covariance(3, 3) = std::max(0.0, prior.covariance(3, 3) - gain.dot(shared)) + gain.dot(with_height);
  return after;
}

/// A local answer with the probability around it. Few precise edges can always be brought into agreement at some exact
/// pose; what tells such a needle from the truth is how little room there is on it. Full weight for the room would
/// favour poses at which nothing agrees: on synthetic lots half the log determinant costs arrows a factor of five in
/// their 90th percentile, none of it leaves the rare needle.
struct Peak {
  Answer top;
  cv::Matx33d spread;
  double log_mass = -1e300;
};

constexpr double kRoom = 0.2;

Peak peak_at(const Posterior& posterior, const Answer& top, const cv::Vec3d& at_most) {
  const cv::Matx33d spread = spread_at(posterior, top.at, at_most);
  return {top, spread, top.log_probability + kRoom * std::log(cv::determinant(spread))};
}

/// What the chance adds that another peak holds the truth.
cv::Matx44d spread_of_rivals(const Posterior& posterior, const std::vector<Peak>& peaks, const Peak& best,
                             double width) {
  double weights = 1;
  cv::Matx44d rivals = cv::Matx44d::zeros();
  const cv::Vec4d middle = with_height(best.top.at, posterior.height(best.top.at).mean);
  std::vector<Pose> counted{best.top.at};
  for (const Peak& peak : peaks) {
    const bool same = std::any_of(counted.begin(), counted.end(), [&](const Pose& p) {
      return std::abs(p[0] - peak.top.at[0]) < std::max(3 * width, 0.2 * kDegree);
    });
    if (same) continue;
    counted.push_back(peak.top.at);
    const cv::Vec4d d = with_height(peak.top.at, posterior.height(peak.top.at).mean) - middle;
    const double weight = std::exp(peak.log_mass - best.log_mass);
    weights += weight;
    rivals += weight * (d * d.t());
  }
  return rivals * (1 / weights);
}

}  // namespace

ViewPrior hand_held(const Camera& camera) {
  ViewPrior prior;
  prior.belief.view = {kUsualPitch, 0, std::log(camera.focal_px), std::log(kHandHeightMm)};
  const double focal = camera.focal_known ? kFocalKnown : kFocalGuessed;
  prior.belief.covariance = cv::Matx44d::diag(
      {kPitchSigma * kPitchSigma, kLeanSigma * kLeanSigma, focal * focal, kHandHeightSigma * kHandHeightSigma});
  return prior;
}

LikelyView likely_view(const ViewPrior& prior, const std::vector<EdgeLine>& edges, const GroundTop& top,
                       cv::Size photo) {
  return likely_view(prior, PaintSeen{edges, {}, {}}, top, photo);
}

LikelyView likely_view(const ViewPrior& prior, const PaintSeen& seen, const GroundTop& top, cv::Size photo) {
  const Posterior posterior(prior, seen, top, photo);
  const View& m = prior.belief.view;
  const cv::Matx44d& c = prior.belief.covariance;
  const double focal_step = std::sqrt(c(2, 2)) / (4 * kDegree);
  const std::vector<Pose> ways = all_ways(focal_step);
  std::vector<Answer> answers;
  if (prior.measured) {
    const double first = 2 * std::sqrt(std::max(c(0, 0), c(1, 1)));
    answers.push_back(climb(posterior, {m.pitch, m.lean, m.log_focal}, first, first / 300, 0, ways));
  } else {
    for (const Answer& start : grid_answers(posterior, prior)) {
      const Answer middle = climb(posterior, start.at, 1 * kDegree, 0.2 * kDegree, kBluntMiddle, ways);
      answers.push_back(climb(posterior, middle.at, 0.5 * kDegree, 0.01 * kDegree, 0, ways));
    }
  }
  const cv::Vec3d at_most(std::sqrt(c(0, 0)), std::sqrt(c(1, 1)), std::sqrt(c(2, 2)));
  std::vector<Peak> peaks;
  for (const Answer& a : answers)
    peaks.push_back(peak_at(posterior, a, at_most));
  const Peak& best = *std::max_element(peaks.begin(), peaks.end(),
                                       [](const Peak& a, const Peak& b) { return a.log_mass < b.log_mass; });
  LikelyView likely;
  if (prior.measured) {
    likely.belief = updated(prior.belief, best.top.at, best.spread);
    return likely;
  }
  const Ridge ridge = along_ridge(posterior, best.top, best.spread, focal_step);
  likely.belief.view = {ridge.middle[0], ridge.middle[1], ridge.middle[2], ridge.log_height};
  likely.belief.covariance = ridge.spread + spread_of_rivals(posterior, peaks, best, std::sqrt(ridge.spread(0, 0)));
  likely.from_edges = seen.edges.size() + seen.objects.size() >= 1 && likely.belief.covariance(0, 0) < 0.25 * c(0, 0);
  likely.from_sizes = !seen.sizes.families.empty() && likely.belief.covariance(3, 3) < 0.5 * c(3, 3);
  return likely;
}

}  // namespace lotwear
