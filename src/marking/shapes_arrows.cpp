// Turn arrows are built from the elbow outwards: first everything above the place where the shaft stops being straight,
// then the shaft is made just long enough that the whole is 1 long. Left is drawn; right is its mirror image.

#include <algorithm>

#include "marking/shapes_parts.hpp"

namespace lotwear::shape_parts {

namespace {

/// A head pointing along -x with its join to the arm at (0, 0); turned and moved by the caller. From the barb above the
/// arm over the tip to the barb below it.
GroundRing head(double head_length, double half_width, double notch) {
  return {{notch, -half_width}, {notch - head_length, 0}, {notch, half_width}};
}

/// Turned by `angle` about the origin (0: points to -x; positive turns the tip towards -y), then moved.
GroundRing placed(const GroundRing& ring, double angle, GroundPoint to) {
  const double c = std::cos(angle), s = std::sin(angle);
  GroundRing out;
  for (const GroundPoint& p : ring)
    out.push_back({to.x + c * p.x - s * p.y, to.y + s * p.x + c * p.y});
  return out;
}

void append(GroundRing& to, const GroundRing& more) { to.insert(to.end(), more.begin(), more.end()); }

GroundRing reversed(GroundRing ring) {
  std::reverse(ring.begin(), ring.end());
  return ring;
}

/// How far the shaft's foot lies below y = 0 when the highest point of `upper` and the foot are to be 1 apart.
double foot_below(const GroundRing& upper) {
  double top = 0;
  for (const GroundPoint& p : upper)
    top = std::min(top, p.y);
  return 1.0 + top;
}

/// A head is wider than the line it sits on, and its notch leaves it wider there too.
double safe_half(double half_head, double half_line) { return std::max(half_head, 1.4 * half_line); }
double safe_notch(double notch, double head_length, double half_head, double half_line) {
  return std::min(notch, head_length * (1 - 1.1 * half_line / half_head));
}

struct Arm {
  GroundRing under;  ///< from the shaft's left edge along the arm's lower side to the head, barb by barb, and ...
  GroundRing over;   ///< ... back along its upper side
};

/// Square elbow: the arm's centreline at y = 0, the shaft's left edge at x = -half_shaft.
Arm square_arm(double half_shaft, double half_arm, double arm, double head_length, double head_half, double notch) {
  const double join = -(half_shaft + arm), half = safe_half(head_half, half_arm);
  const double swept =
      std::min(safe_notch(notch, head_length, half, half_arm), 0.85 * arm);  // barbs stay off the shaft
  const GroundRing tip = placed(head(head_length, half, swept), 0, {join, 0});
  return {{{-half_shaft, half_arm}, {join, half_arm}, tip[2], tip[1]}, {tip[0], {join, -half_arm}}};
}

/// Curved elbow: leaves the shaft at y = 0 with centreline radius `radius`, turning through `turn` radians. The arm
/// grows until its upper barb is left of x = `barb_left_of`.
Arm curved_arm(double half_shaft, double radius, double turn, double arm, double head_length, double head_half,
               double notch, double barb_left_of) {
  const GroundPoint centre{-radius, 0};
  const double angle = std::numbers::pi / 2 - turn;  // 0 at a full right angle
  const GroundPoint ahead{-std::cos(angle), -std::sin(angle)};
  const GroundPoint side{-ahead.y, ahead.x};  // to the arm's upper side
  const GroundPoint bend_end = centre + GroundPoint{radius * std::cos(turn), -radius * std::sin(turn)};
  const double half = safe_half(head_half, half_shaft), swept = safe_notch(notch, head_length, half, half_shaft);
  const double barb_x = bend_end.x + ahead.x * (arm - swept) + side.x * half;
  const double reach = arm + std::max(0.0, barb_x - barb_left_of) / -ahead.x;
  const GroundPoint join = bend_end + ahead * reach;
  const GroundRing tip = placed(head(head_length, half, swept), angle, join);
  Arm made;
  made.under = arc(centre, radius - half_shaft, 0, -turn);
  append(made.under, {join - side * half_shaft, tip[2], tip[1]});
  made.over = {tip[0], join + side * half_shaft};
  append(made.over, arc(centre, radius + half_shaft, -turn, 0));
  return made;
}

double safe_radius(double radius, double half_shaft) { return std::max(radius, 1.15 * half_shaft); }

/// Upper side of a curved arm up to where it crosses the vertical x = `at`, that crossing included.
GroundRing cut_at(const GroundRing& over, double at) {
  GroundRing out;
  for (std::size_t i = 0; i < over.size(); ++i) {
    if (over[i].x < at) {
      out.push_back(over[i]);
      continue;
    }
    const GroundPoint a = over[i - 1], b = over[i];
    out.push_back({at, a.y + (b.y - a.y) * (at - a.x) / (b.x - a.x)});
    break;
  }
  return out;
}

}  // namespace

// shaft-width, head-length, head-width, notch
Rings straight_arrow(Values v) {
  const double s = v[0] / 2, barb = v[1], half = safe_half(v[2] / 2, s), join = v[1] - safe_notch(v[3], v[1], half, s);
  return {{{0, 0}, {half, barb}, {s, join}, {s, 1}, {-s, 1}, {-s, join}, {-half, barb}}};
}

// shaft-width, arm-width, arm-length, head-length, head-width, notch
Rings square_turn(Values v) {
  const double s = v[0] / 2, half_arm = std::min(v[1], 0.8 * v[4]) / 2;
  const Arm left = square_arm(s, half_arm, v[2], v[3], v[4] / 2, v[5]);
  GroundRing upper = left.under;
  append(upper, left.over);
  upper.push_back({s, -half_arm});
  const double foot = foot_below(upper);
  append(upper, {{s, foot}, {-s, foot}});
  return {upper};
}

// shaft-width, elbow-radius, turn-degrees, arm-length, head-length, head-width, notch
Rings curved_turn(Values v) {
  const double s = v[0] / 2;
  const Arm left = curved_arm(s, safe_radius(v[1], s), v[2] * kRadiansPerDegree, v[3], v[4], v[5] / 2, v[6], 1);
  GroundRing upper = left.under;
  append(upper, left.over);
  const double foot = foot_below(upper);
  append(upper, {{s, foot}, {-s, foot}});
  return {upper};
}

namespace {

/// A straight arrow with `left` growing out of its shaft; `leaves` is where the arm's own y = 0 lies, from the tip.
GroundRing with_straight(const Arm& left, const GroundRing& over, double leaves, double half_shaft, double head_length,
                         double head_half, double notch) {
  const double half = safe_half(head_half, half_shaft),
               join = head_length - safe_notch(notch, head_length, half, half_shaft);
  GroundRing ring = {{0, 0}, {half, head_length}, {half_shaft, join}, {half_shaft, 1}, {-half_shaft, 1}};
  append(ring, placed(left.under, 0, {0, leaves}));
  append(ring, placed(over, 0, {0, leaves}));
  append(ring, {{-half_shaft, join}, {-half, head_length}});
  return ring;
}

double lowest(const GroundRing& ring) {
  double low = ring.front().y;
  for (const GroundPoint& p : ring)
    low = std::max(low, p.y);
  return low;
}
double highest(const GroundRing& ring) {
  double high = ring.front().y;
  for (const GroundPoint& p : ring)
    high = std::min(high, p.y);
  return high;
}

/// Where the arm leaves, kept so that its head neither runs into the straight head nor below the foot.
double safe_leaves(double wanted, const Arm& arm, double head_length) {
  GroundRing all = arm.under;
  append(all, arm.over);
  const double first = head_length + 0.02 - highest(all), last = 0.98 - lowest(all);
  return std::clamp(wanted, std::min(first, last), last);
}

}  // namespace

// shaft-width, head-length, head-width, notch, arm-leaves, arm-width, arm-length, arm-head-length, arm-head-width
Rings square_straight_turn(Values v) {
  const double s = v[0] / 2, half_arm = std::min(v[5], 0.8 * v[8]) / 2;
  const Arm left = square_arm(s, half_arm, v[6], v[7], v[8] / 2, v[3]);
  GroundRing over = left.over;
  over.push_back({-s, -half_arm});
  return {with_straight(left, over, safe_leaves(v[4], left, v[1]), s, v[1], v[2] / 2, v[3])};
}

// shaft-width, head-length, head-width, notch, arm-leaves, elbow-radius, turn-degrees, arm-length, arm-head-length,
// arm-head-width
Rings curved_straight_turn(Values v) {
  const double s = v[0] / 2;
  const Arm left = curved_arm(s, safe_radius(v[5], s), v[6] * kRadiansPerDegree, v[7], v[8], v[9] / 2, v[3], -s - 0.01);
  return {with_straight(left, cut_at(left.over, -s), safe_leaves(v[4], left, v[1]), s, v[1], v[2] / 2, v[3])};
}

namespace {

Rings both_ways(const Arm& left, const GroundRing& over_to_middle, double half_shaft) {
  GroundRing half = left.under;
  append(half, over_to_middle);
  const double foot = foot_below(half);
  GroundRing ring = half;
  append(ring, reversed(mirrored(half)));
  append(ring, {{half_shaft, foot}, {-half_shaft, foot}});
  return {ring};
}

}  // namespace

// shaft-width, arm-width, arm-length, head-length, head-width, notch
Rings square_two_turns(Values v) {
  const double s = v[0] / 2, half_arm = std::min(v[1], 0.8 * v[4]) / 2;
  const Arm left = square_arm(s, half_arm, v[2], v[3], v[4] / 2, v[5]);
  return both_ways(left, left.over, s);
}

// shaft-width, elbow-radius, turn-degrees, arm-length, head-length, head-width, notch
Rings curved_two_turns(Values v) {
  const double s = v[0] / 2;
  const Arm left = curved_arm(s, safe_radius(v[1], s), v[2] * kRadiansPerDegree, v[3], v[4], v[5] / 2, v[6], -0.01);
  return both_ways(left, cut_at(left.over, 0), s);
}

}  // namespace lotwear::shape_parts
