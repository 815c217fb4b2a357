#include "ground/likely_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi, kDegree = kPi / 180;

// How a phone is held (common practice, no source): tails for the photo taken anyhow.
constexpr double kUsualPitch = 42 * kDegree, kPitchSigma = 16 * kDegree, kAnyPitch = 0.15;
constexpr double kLeanSigma = 3 * kDegree, kAnyLeanSigma = 12 * kDegree, kAnyLean = 0.15;
constexpr double kHandHeightMm = 1500, kHandHeightSigma = 0.17;
constexpr double kFocalKnown = 0.02, kFocalGuessed = 0.15;
constexpr double kLowestPitch = -15 * kDegree, kHighestPitch = 92 * kDegree, kMostLean = 25 * kDegree;

// Edges: shares of directions found on lots (estimate, no source), and how straight lines are painted.
constexpr double kNoPartner = 0.35;  // arrow heads, letters, kerbs
constexpr double kSquare = 0.2;      // of the partners: at right angles; the rest parallel
constexpr double kPaintedStraight = 0.4 * kDegree;
constexpr double kOnceForBoth = 0.5;                          // each pair is counted from either end
constexpr double kFlattestGround = 0.05, kFlatSpread = 0.02;  // steepness of ground 30 m away, and how sharply it ends
constexpr double kHorizonDoubt = 9;  // at most this much log probability from one point: the finder may be wrong there

constexpr int kFree = 3;  // pitch, lean, log focal
using Pose = cv::Vec3d;

View view_of(const Pose& p) { return {p[0], p[1], p[2], 0}; }

double normal_density(double d, double sigma) {
  const double u = d / sigma;
  return std::abs(u) > 6 ? 0 : std::exp(-u * u / 2) / (sigma * std::sqrt(2 * kPi));
}

/// Angle between lines, in [-90, 90) degrees.
double line_angle(double a) { return a - kPi * std::floor(a / kPi + 0.5); }

using Ray = cv::Vec3d;

/// An edge as rays relative to a focal length of one pixel: scaled by the focal length when a pose is tried.
struct SeenEdge {
  ImagePoint middle, along;  ///< from the photo's middle; unit direction
  double offset_error = 0, angle_error = 0;
};

class Posterior {
 public:
  Posterior(const ViewPrior& prior, const std::vector<EdgeLine>& edges, const std::vector<ImagePoint>& ground,
            cv::Size photo)
      : prior_(prior), ground_(ground), photo_(photo) {
    const ImagePoint centre{photo.width / 2.0, photo.height / 2.0};
    for (const EdgeLine& e : edges) {
      const ImagePoint d = e.to - e.from;
      edges_.push_back({(e.from + e.to) * 0.5 - centre, d * (1 / length(d)), e.offset_error, e.angle_error});
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
    const double pitch = (1 - kAnyPitch) * normal_density(d[0], kPitchSigma) + kAnyPitch / kPi;
    const double lean =
        (1 - kAnyLean) * normal_density(d[1], kLeanSigma) + kAnyLean * normal_density(d[1], kAnyLeanSigma);
    const double focal = d[2] / std::sqrt(prior_.belief.covariance(2, 2));
    return std::log(pitch) + std::log(std::max(lean, 1e-300)) - focal * focal / 2;
  }

  /// `blunt`: at least this error of every direction on the ground, radians.
  double log_probability(const Pose& p, double blunt) const {
    const double before = prior(p);
    return before < -1e8 ? before : before + horizon(p) + edges(p, blunt);
  }

 private:
  double horizon(const Pose& p) const {
    const View view = view_of(p);
    double sum = 0;
    for (const ImagePoint g : ground_) {
      const double missing = std::max(0.0, kFlattestGround - steepness(view, photo_, g)) / kFlatSpread;
      sum -= std::min(kHorizonDoubt, missing * missing / 2);
    }
    return sum;
  }

  struct Laid {
    double direction = 0, error = 0;
    double squeeze = 0;  ///< how much the direction on the ground turns with the direction in the photo
  };

  double edges(const Pose& p, double blunt) const {
    if (edges_.size() < 2) return 0;
    const auto n = down_of(view_of(p));
    const Ray down(n[0], n[1], n[2]);
    Ray ex = Ray(1, 0, 0) - n[0] * down;
    ex *= 1 / cv::norm(ex);
    const Ray ey = down.cross(ex);
    const double f = std::exp(p[2]);
    const auto direction = [&](ImagePoint middle, ImagePoint along) {
      const Ray ray(middle.x / f, middle.y / f, 1), step(along.x, along.y, 0);
      const Ray on_ground = down.cross(ray.cross(step));
      return std::atan2(on_ground.dot(ey), on_ground.dot(ex));
    };
    std::vector<Laid> laid;
    laid.reserve(edges_.size());
    for (const SeenEdge& e : edges_) {
      constexpr double kTurn = 1e-4, kShift = 0.1;
      const double phi = direction(e.middle, e.along);
      const ImagePoint side{-e.along.y, e.along.x};
      const double by_turn = line_angle(direction(e.middle, e.along + side * kTurn) - phi) / kTurn;
      const double by_shift = line_angle(direction(e.middle + side * kShift, e.along) - phi) / kShift;
      laid.push_back({phi,
                      std::hypot(by_turn * e.angle_error, by_shift * e.offset_error, std::max(blunt, kPaintedStraight)),
                      std::abs(by_turn)});
    }
    double sum = 0;
    const auto others = static_cast<double>(laid.size() - 1);
    for (std::size_t i = 0; i < laid.size(); ++i) {
      double partners = 0;
      for (std::size_t j = 0; j < laid.size(); ++j) {
        if (i == j) continue;
        const double sigma = std::hypot(laid[i].error, laid[j].error);
        const double apart = line_angle(laid[i].direction - laid[j].direction);
        partners +=
            (1 - kSquare) * normal_density(apart, sigma) + kSquare * normal_density(std::abs(apart) - kPi / 2, sigma);
      }
      sum += std::log(kNoPartner / kPi + (1 - kNoPartner) * laid[i].squeeze * partners / others);
    }
    return kOnceForBoth * sum;
  }

  const ViewPrior& prior_;
  const std::vector<ImagePoint>& ground_;
  cv::Size photo_;
  std::vector<SeenEdge> edges_;
  cv::Matx33d information_;
};

struct Answer {
  Pose at;
  double log_probability = -1e300;
};

/// Climbs by trying steps along each axis and both diagonals of pitch and lean, halving them.
Answer climb(const Posterior& posterior, Pose at, double first_step, double last_step, double blunt,
             double focal_step) {
  Answer best{at, posterior.log_probability(at, blunt)};
  for (double step = first_step; step > last_step; step /= 2) {
    for (bool moved = true; moved;) {
      moved = false;
      for (const Pose& way : {Pose(1, 0, 0), Pose(0, 1, 0), Pose(0, 0, focal_step), Pose(1, 1, 0), Pose(1, -1, 0),
                              Pose(1, 0, focal_step), Pose(1, 0, -focal_step)}) {
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

constexpr double kGridStep = 3 * kDegree, kBluntGrid = 2.5 * kDegree, kBluntMiddle = 1 * kDegree;
constexpr std::size_t kRivals = 4;

std::vector<Answer> grid_answers(const Posterior& posterior, const ViewPrior& prior) {
  const View& m = prior.belief.view;
  const double focal_sigma = std::sqrt(prior.belief.covariance(2, 2));
  std::vector<double> focals{m.log_focal};
  if (focal_sigma > 0.05) {
    for (const double by : {-1.2, -0.6, 0.6, 1.2})
      focals.push_back(m.log_focal + by * focal_sigma);
  }
  std::vector<Answer> answers;
  for (const double focal : focals) {
    for (double pitch = -9 * kDegree; pitch < kHighestPitch; pitch += kGridStep) {
      for (double lean = -12 * kDegree; lean < 12.5 * kDegree; lean += kGridStep) {
        const Pose p(pitch, lean, focal);
        answers.push_back({p, posterior.log_probability(p, kBluntGrid)});
      }
    }
  }
  std::stable_sort(answers.begin(), answers.end(),
                   [](const Answer& a, const Answer& b) { return a.log_probability > b.log_probability; });
  std::vector<Answer> apart;
  for (const Answer& a : answers) {
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

}  // namespace

ViewPrior hand_held(const Camera& camera) {
  ViewPrior prior;
  prior.belief.view = {kUsualPitch, 0, std::log(camera.focal_px), std::log(kHandHeightMm)};
  const double focal = camera.focal_known ? kFocalKnown : kFocalGuessed;
  prior.belief.covariance = cv::Matx44d::diag(
      {kPitchSigma * kPitchSigma, kLeanSigma * kLeanSigma, focal * focal, kHandHeightSigma * kHandHeightSigma});
  return prior;
}

LikelyView likely_view(const ViewPrior& prior, const std::vector<EdgeLine>& edges,
                       const std::vector<ImagePoint>& below_horizon, cv::Size photo) {
  const Posterior posterior(prior, edges, below_horizon, photo);
  const View& m = prior.belief.view;
  const cv::Matx44d& c = prior.belief.covariance;
  const double focal_step = std::sqrt(c(2, 2)) / (4 * kDegree);
  std::vector<Answer> answers;
  if (prior.measured) {
    const double first = 2 * std::sqrt(std::max(c(0, 0), c(1, 1)));
    answers.push_back(climb(posterior, {m.pitch, m.lean, m.log_focal}, first, first / 300, 0, focal_step));
  } else {
    for (const Answer& start : grid_answers(posterior, prior)) {
      const Answer middle = climb(posterior, start.at, 1.5 * kDegree, 0.3 * kDegree, kBluntMiddle, focal_step);
      answers.push_back(climb(posterior, middle.at, 0.5 * kDegree, 0.01 * kDegree, 0, focal_step));
    }
  }
  const Answer& best = *std::max_element(answers.begin(), answers.end(), [](const Answer& a, const Answer& b) {
    return a.log_probability < b.log_probability;
  });
  const cv::Vec3d at_most(std::sqrt(c(0, 0)), std::sqrt(c(1, 1)), std::sqrt(c(2, 2)));
  cv::Matx33d spread = spread_at(posterior, best.at, at_most);
  // Rival answers nearly as probable: the true pose may be there.
  double weights = 1;
  cv::Matx33d rivals = cv::Matx33d::zeros();
  for (const Answer& a : answers) {
    const cv::Vec3d d = a.at - best.at;
    if (cv::norm(d) < 0.5 * kDegree) continue;
    const double weight = std::exp(a.log_probability - best.log_probability);
    weights += weight;
    rivals += weight * (d * d.t());
  }
  spread += rivals * (1 / weights);

  LikelyView likely;
  likely.belief = updated(prior.belief, best.at, spread);
  likely.from_edges = !prior.measured && edges.size() >= 2 && spread(0, 0) < 0.25 * c(0, 0);
  return likely;
}

}  // namespace lotwear
