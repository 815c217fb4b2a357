#include "ground/laid_edges.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi, kDegree = kPi / 180;

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
// Radians; what is left of a lens's bend turns edges near the corners by this much.
constexpr double kLensTurn = 0.0015;

using Ray = cv::Vec3d;

}  // namespace

SeenEdge seen_edge(const EdgeLine& e, cv::Size photo) {
  const ImagePoint centre{photo.width / 2.0, photo.height / 2.0}, d = e.to - e.from;
  return {(e.from + e.to) * 0.5 - centre, d * (1 / length(d)), e.offset_error, std::hypot(e.angle_error, kLensTurn)};
}

PoseGround::PoseGround(const Pose& p) : focal_(std::exp(p[2])) {
  const auto n = down_of(view_of(p));
  down_ = Ray(n[0], n[1], n[2]);
  ex_ = Ray(1, 0, 0) - n[0] * down_;
  ex_ *= 1 / cv::norm(ex_);
  ey_ = down_.cross(ex_);
}

Laid PoseGround::laid(const SeenEdge& e, double blunt) const {
  constexpr double kTurn = 1e-4, kShift = 0.1;
  const double phi = direction(e.middle, e.along);
  const ImagePoint side{-e.along.y, e.along.x};
  const double by_turn = line_angle(direction(e.middle, e.along + side * kTurn) - phi) / kTurn;
  const double by_shift = line_angle(direction(e.middle + side * kShift, e.along) - phi) / kShift;
  const double turned = by_turn * e.angle_error, shifted = by_shift * e.offset_error;
  return {phi, turned * turned + shifted * shifted + blunt * blunt, std::abs(by_turn)};
}

double PoseGround::direction(ImagePoint middle, ImagePoint along) const {
  const Ray ray(middle.x / focal_, middle.y / focal_, 1), step(along.x, along.y, 0);
  const Ray on_ground = down_.cross(ray.cross(step));
  return std::atan2(on_ground.dot(ey_), on_ground.dot(ex_));
}

double log_agreement(const std::vector<Laid>& laid, double blunt) {
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
        density +=
            share * ((1 - kSquare) * normal_density(apart, variance) + kSquare * normal_density(from_square, variance));
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

}  // namespace lotwear
