#pragma once
// Points and rings that know their frame, and the one projective map between photo and pavement.

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace lotwear {

/// x right, y down. In the image frame: pixels of the upright photo, (0, 0) at the outer corner of the top-left pixel.
/// In the ground frame: millimetres on the pavement, seen from above.
template <class Frame>
struct Point {
  double x = 0, y = 0;

  friend constexpr Point operator+(Point a, Point b) { return {a.x + b.x, a.y + b.y}; }
  friend constexpr Point operator-(Point a, Point b) { return {a.x - b.x, a.y - b.y}; }
  friend constexpr Point operator*(Point a, double by) { return {a.x * by, a.y * by}; }
  friend constexpr bool operator==(Point, Point) = default;
};

using ImagePoint = Point<struct ImageFrame>;
using GroundPoint = Point<struct GroundFrame>;

template <class Frame>
constexpr double dot(Point<Frame> a, Point<Frame> b) { return a.x * b.x + a.y * b.y; }
template <class Frame>
constexpr double cross(Point<Frame> a, Point<Frame> b) { return a.x * b.y - a.y * b.x; }
template <class Frame>
double length(Point<Frame> a) { return std::hypot(a.x, a.y); }

/// Distance from a point to the segment a-b.
template <class Frame>
double point_to_segment(Point<Frame> p, Point<Frame> a, Point<Frame> b) {
  const Point<Frame> d = b - a;
  const double t = std::clamp(dot(p - a, d) / std::max(dot(d, d), 1e-9), 0.0, 1.0);
  return length(p - (a + d * t));
}

/// Closed: the last point joins the first. At least three points.
template <class Frame>
using Ring = std::vector<Point<Frame>>;
using ImageRing = Ring<struct ImageFrame>;
using GroundRing = Ring<struct GroundFrame>;

/// By the shoelace rule; the sign tells the direction (positive: clockwise as seen with y down).
template <class Frame>
double signed_area(const Ring<Frame>& ring) {
  double twice = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) twice += cross(ring[i], ring[(i + 1) % ring.size()]);
  return twice / 2;
}

/// Enclosed area, never negative.
template <class Frame>
double area(const Ring<Frame>& ring) {
  return std::abs(signed_area(ring));
}

/// Length of the closed outline.
template <class Frame>
double perimeter(const Ring<Frame>& ring) {
  double sum = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) sum += length(ring[(i + 1) % ring.size()] - ring[i]);
  return sum;
}

template <class Frame>
Point<Frame> centroid(const Ring<Frame>& ring) {
  double twice = 0, x = 0, y = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const Point<Frame> a = ring[i], b = ring[(i + 1) % ring.size()];
    const double c = cross(a, b);
    twice += c;
    x += (a.x + b.x) * c;
    y += (a.y + b.y) * c;
  }
  if (twice == 0) return ring.empty() ? Point<Frame>{} : ring.front();
  return {x / (3 * twice), y / (3 * twice)};
}

/// A plane-to-plane projective map that refuses the wrong frame: `const GroundPoint g = ground_from_image(p)`.
/// Row-major 3 x 3, scaled as given; the constructor demands an invertible matrix.
template <class To, class From>
class Projective {
 public:
  using Matrix = std::array<double, 9>;

  Projective() : m_{1, 0, 0, 0, 1, 0, 0, 0, 1} {}
  explicit Projective(const Matrix& m);

  Point<To> operator()(Point<From> p) const {
    const double w = m_[6] * p.x + m_[7] * p.y + m_[8];
    return {(m_[0] * p.x + m_[1] * p.y + m_[2]) / w, (m_[3] * p.x + m_[4] * p.y + m_[5]) / w};
  }
  Ring<To> operator()(const Ring<From>& ring) const {
    Ring<To> mapped;
    mapped.reserve(ring.size());
    for (const auto& p : ring) mapped.push_back((*this)(p));
    return mapped;
  }
  /// Third homogeneous coordinate: changes sign at the horizon.
  double depth(Point<From> p) const { return m_[6] * p.x + m_[7] * p.y + m_[8]; }
  Projective<From, To> inverse() const;
  const Matrix& matrix() const { return m_; }

 private:
  Matrix m_;
};

using GroundFromImage = Projective<struct GroundFrame, struct ImageFrame>;
using ImageFromGround = Projective<struct ImageFrame, struct GroundFrame>;
/// From the ground of one photo to that of another.
using GroundFromGround = Projective<struct GroundFrame, struct GroundFrame>;

}  // namespace lotwear
