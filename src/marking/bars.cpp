#include "marking/bars.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "marking/grow_mask.hpp"
#include "marking/straight_runs.hpp"

namespace lotwear {

bool same_paint(const PaintContrast& a, const PaintContrast& b) {
  // direction of the colour difference from the pavement: survives shade and wear, tells yellow from white from blue
  double aa = 0, bb = 0, ab = 0;
  for (int i = 0; i < 3; ++i) {
    const double da = a.paint[i] - a.pavement[i], db = b.paint[i] - b.pavement[i];
    aa += da * da, bb += db * db, ab += da * db;
  }
  return ab > 0.85 * std::sqrt(aa * bb);
}

namespace {

constexpr double kBetterSplit = 0.03;
constexpr double kOneBar = 0.78;   // agreement from which a piece is one bar and needs no taking apart

/// A piece seen from above, as a mask.
struct Plan {
  cv::Mat mask;            ///< CV_8U
  PatchPlace place;
};

/// Seen along the piece's own direction: a long thin stripe at a slant would fill a square with bare pavement, and the square's
/// pixels would be wider than the stripe.
Plan plan_of(const Piece& piece, const PaintMap& paint, const Ground& ground) {
  constexpr double kPixels = 0.49e6, kLongSide = 1400;
  std::vector<cv::Point2f> points;
  for (int r = 0; r < piece.box.height; ++r) {
    const uchar* row = piece.mask.ptr<uchar>(r);
    for (int c = 0; c < piece.box.width; ++c) {
      if (row[c] == 0) continue;
      const GroundPoint g = ground.ground_from_image({(piece.box.x + c + 0.5) * paint.photo_per_cell,
                                                      (piece.box.y + r + 0.5) * paint.photo_per_cell}) - piece.middle;
      points.emplace_back(static_cast<float>(g.x), static_cast<float>(g.y));
    }
  }
  PatchPlace place;
  place.angle = static_cast<double>(cv::minAreaRect(points).angle) * std::numbers::pi / 180;
  const GroundPoint u{std::cos(place.angle), std::sin(place.angle)}, v{-u.y, u.x};
  double x0 = 1e12, y0 = 1e12, x1 = -1e12, y1 = -1e12;
  for (const cv::Point2f& p : points) {
    const GroundPoint g{static_cast<double>(p.x), static_cast<double>(p.y)};
    x0 = std::min(x0, dot(g, u)), y0 = std::min(y0, dot(g, v)), x1 = std::max(x1, dot(g, u)), y1 = std::max(y1, dot(g, v));
  }
  const double margin = 2 * piece.cell_mm;
  x0 -= margin, y0 -= margin, x1 += margin, y1 += margin;
  place.mm_per_pixel = std::max({piece.cell_mm / 2, 4.0, std::sqrt((x1 - x0) * (y1 - y0) / kPixels), std::max(x1 - x0, y1 - y0) / kLongSide});
  place.origin = piece.middle + u * x0 + v * y0;
  place.width = static_cast<int>((x1 - x0) / place.mm_per_pixel) + 1;
  place.height = static_cast<int>((y1 - y0) / place.mm_per_pixel) + 1;
  // only this piece's cells: neighbours of another kind may lie in the same box
  cv::Mat own(paint.footprint.size(), CV_32F, cv::Scalar(0));
  cv::Mat grown;
  cv::dilate(piece.mask, grown, cv::Mat());
  paint.footprint(piece.box).copyTo(own(piece.box), grown);
  const cv::Mat share = map_in_patch(own, paint.photo_per_cell, ground, place);
  return {share > 0.5, place};
}

Bar bar_from_points(const std::vector<cv::Point>& points, const PatchPlace& place) {
  cv::Point2d mean(0, 0);
  for (const auto& p : points) mean += cv::Point2d(p.x + 0.5, p.y + 0.5);
  mean *= 1.0 / static_cast<double>(points.size());
  double xx = 0, xy = 0, yy = 0;
  for (const auto& p : points) {
    const double dx = p.x + 0.5 - mean.x, dy = p.y + 0.5 - mean.y;
    xx += dx * dx, xy += dx * dy, yy += dy * dy;
  }
  const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
  const cv::Point2d axis(std::cos(angle), std::sin(angle));
  std::vector<double> along;
  along.reserve(points.size());
  for (const auto& p : points) along.push_back((p.x + 0.5 - mean.x) * axis.x + (p.y + 0.5 - mean.y) * axis.y);
  std::sort(along.begin(), along.end());
  // the ends by quantiles that a few stray cells cannot move, stretched back to the full length of an even bar
  const auto quantile = [&](double q) { return along[static_cast<std::size_t>(q * static_cast<double>(along.size() - 1))]; };
  const double low = quantile(0.02), high = quantile(0.98), stretch = (high - low) / 0.96 * 0.02;
  const cv::Point2d a = mean + axis * (low - stretch), b = mean + axis * (high + stretch);
  Bar bar;
  bar.start = place.ground({a.x, a.y});
  bar.end = place.ground({b.x, b.y});
  bar.width_mm = static_cast<double>(points.size()) * place.mm_per_pixel * place.mm_per_pixel / std::max(bar.length(), 1e-9);
  bar.filled = 1;
  return bar;
}

std::vector<cv::Point> points_of(const cv::Mat& mask) {
  std::vector<cv::Point> points;
  cv::findNonZero(mask, points);
  return points;
}

/// What is left of the mask around `seed` where runs in about one direction are the longest, as along a thin stripe, or
/// nearly as long as the seed's, as throughout a wide one.
cv::Mat stripe_through(cv::Point seed, int direction, const Runs& runs, const cv::Mat& left) {
  constexpr double kNearlyAsLong = 0.6;
  cv::Mat along(left.size(), CV_16U, cv::Scalar(0)), alike(left.size(), CV_8U, cv::Scalar(0));
  for (const int d : {-1, 0, 1}) {
    const int k = (direction + d + kDirections) % kDirections;
    cv::max(along, runs.along[static_cast<std::size_t>(k)], along);
    alike |= runs.direction == k;
  }
  alike |= along >= kNearlyAsLong * along.at<ushort>(seed);
  alike &= left;
  // the seed is as long as itself: it is among them
  constexpr int kEightNeighbours = 8, kTaken = 1;
  cv::floodFill(alike, seed, cv::Scalar(kTaken), nullptr, 0, 0, kEightNeighbours);
  return alike == kTaken;
}

/// Takes crossing and touching stripes apart, longest first, `most_bars` at most.
std::vector<Bar> split(const cv::Mat& mask, const PatchPlace& place, std::size_t most_bars = kMostBars) {
  const Runs runs = straight_runs(mask);
  cv::Mat left = mask.clone();
  const int whole = cv::countNonZero(mask);
  std::vector<Bar> bars;
  while (bars.size() < most_bars && cv::countNonZero(left) > 0.04 * whole) {
    cv::Mat run = runs.longest.clone();
    run.setTo(0, left == 0);
    double length = 0;
    cv::Point seed;
    cv::minMaxLoc(run, nullptr, &length, nullptr, &seed);
    if (length < 6) break;
    const int k = runs.direction.at<uchar>(seed);
    // through a wide bar the longest run goes from corner to corner; the bar's own direction is the one that most of it shares
    cv::Mat stripe;
    int most = 0;
    for (int d = -2; d <= 2; ++d) {
      const int direction = (k + d + kDirections) % kDirections;
      if (runs.along[static_cast<std::size_t>(direction)].at<ushort>(seed) < 0.8 * length) continue;
      cv::Mat found = stripe_through(seed, direction, runs, left);
      const int size = cv::countNonZero(found);
      if (size > most) most = size, stripe = found;
    }
    const std::vector<cv::Point> points = points_of(stripe);
    left.setTo(0, stripe);
    if (points.size() < 12) continue;
    const Bar bar = bar_from_points(points, place);
    // crumbs at junctions are wider than long
    if (bar.length() < 1.6 * bar.width_mm && !bars.empty()) continue;
    bars.push_back(bar);
    // what the bar covers is explained, whichever direction its pixels preferred
    const PatchPoint a = place.patch(bar.start), b = place.patch(bar.end);
    cv::line(left, {static_cast<int>(a.x), static_cast<int>(a.y)}, {static_cast<int>(b.x), static_cast<int>(b.y)},
             cv::Scalar(0), std::max(1, static_cast<int>(std::lround(1.1 * bar.width_mm / place.mm_per_pixel))));
  }
  return bars;
}

/// A wide bar that touches thin stripes: the longest run leads out of it along a stripe, so the wide parts are taken first.
/// Empty where all is about equally thick.
std::vector<Bar> split_by_thickness(const cv::Mat& mask, const PatchPlace& place) {
  constexpr double kThick = 0.55, kThinShare = 0.06;
  cv::Mat deep;
  cv::distanceTransform(mask, deep, cv::DIST_L2, cv::DIST_MASK_5);
  double most = 0;
  cv::minMaxLoc(deep, nullptr, &most);
  const int side = 2 * static_cast<int>(kThick * most) + 1;
  if (side < 5) return {};
  const cv::Mat thick = grown_by_disc(shrunk_by_disc(mask, side), side);
  cv::Mat thin;
  const cv::Mat rim = cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5});
  cv::dilate(thick, thin, rim);
  thin = mask & ~thin;
  cv::morphologyEx(thin, thin, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
  const int whole = cv::countNonZero(mask), left = cv::countNonZero(thin);
  if (left < kThinShare * whole || left > (1 - kThinShare) * whole) return {};
  std::vector<Bar> bars = split(thick, place);
  for (const Bar& bar : split(thin, place)) bars.push_back(bar);
  return bars;
}

/// Intersection over union of the bars with the piece.
double agreement_of(const std::vector<Bar>& bars, const Plan& plan) {
  const auto& [mask, place] = plan;
  cv::Mat drawn(mask.size(), CV_8U, cv::Scalar(0));
  for (const Bar& bar : bars) {
    const GroundPoint u = bar.along(), v = GroundPoint{-u.y, u.x} * (bar.width_mm / 2);
    std::vector<cv::Point> corners;
    for (const GroundPoint& g : {bar.start - v, bar.end - v, bar.end + v, bar.start + v}) {
      const PatchPoint p = place.patch(g);
      corners.emplace_back(static_cast<int>(std::lround((p.x - 0.5) * 16)), static_cast<int>(std::lround((p.y - 0.5) * 16)));
    }
    cv::fillPoly(drawn, std::vector<std::vector<cv::Point>>{corners}, cv::Scalar(255), cv::LINE_8, 4);
  }
  return static_cast<double>(cv::countNonZero(drawn & mask)) / std::max(1, cv::countNonZero(drawn | mask));
}

/// The bar around the points along one direction, its sides and ends by quantiles that a few stray cells cannot move.
Bar bar_along(const std::vector<cv::Point>& points, double angle, const PatchPlace& place) {
  constexpr double kStray = 0.01;
  const cv::Point2d u(std::cos(angle), std::sin(angle)), v(-u.y, u.x);
  std::vector<double> along, across;
  along.reserve(points.size()), across.reserve(points.size());
  for (const auto& p : points) {
    const cv::Point2d at(p.x + 0.5, p.y + 0.5);
    along.push_back(at.dot(u)), across.push_back(at.dot(v));
  }
  const auto span = [](std::vector<double>& values) {
    const auto at = [&](double q) {
      const auto nth = values.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(values.size() - 1));
      std::nth_element(values.begin(), nth, values.end());
      return *nth;
    };
    const double low = at(kStray), high = at(1 - kStray), stretch = (high - low) * kStray / (1 - 2 * kStray);
    return std::pair{low - stretch, high + stretch};
  };
  auto [a0, a1] = span(along);
  auto [c0, c1] = span(across);
  cv::Point2d axis = u, side = v;
  if (a1 - a0 < c1 - c0) std::swap(a0, c0), std::swap(a1, c1), std::swap(axis, side);
  const cv::Point2d middle = side * ((c0 + c1) / 2), start = middle + axis * a0, end = middle + axis * a1;
  Bar bar;
  bar.start = place.ground({start.x, start.y});
  bar.end = place.ground({end.x, end.y});
  bar.width_mm = (c1 - c0) * place.mm_per_pixel;
  bar.filled = 1;
  return bar;
}

struct OneBar {
  Bar bar;
  double agreement = 0;
};

/// The best single bar for the piece. The photo's edge may cut it to any shape: the sides that are left give its direction.
OneBar one_bar(const std::vector<cv::Point>& points, const Plan& plan) {
  std::vector<cv::Point> hull;
  cv::convexHull(points, hull);
  const double around = cv::arcLength(hull, true);
  std::vector<double> angles = {static_cast<double>(cv::minAreaRect(hull).angle) * std::numbers::pi / 180};
  std::vector<cv::Point> corners;
  cv::approxPolyDP(hull, corners, std::max(1.5, 0.01 * around), true);
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const cv::Point d = corners[(i + 1) % corners.size()] - corners[i];
    if (std::hypot(d.x, d.y) > 0.12 * around) angles.push_back(std::atan2(d.y, d.x));
  }
  OneBar best;
  for (const double angle : angles) {
    const Bar bar = bar_along(points, angle, plan.place);
    const double agreement = agreement_of({bar}, plan);
    if (agreement > best.agreement) best = {bar, agreement};
  }
  return best;
}

double angle_between(const Bar& a, const Bar& b) {
  return std::asin(std::min(1.0, std::abs(cross(a.along(), b.along())))) * 180 / std::numbers::pi;
}

bool one_stripe(const Bar& a, const Bar& b) {
  if (a.width_mm > 1.6 * b.width_mm || b.width_mm > 1.6 * a.width_mm) return false;
  const Bar& big = a.length() >= b.length() ? a : b;
  const Bar& small = a.length() >= b.length() ? b : a;
  // a short remnant's direction is uncertain by its width over its length
  const double slack = 3.0 + 25.0 * std::min(1.0, small.width_mm / std::max(small.length(), 1.0));
  if (angle_between(a, b) > slack || !same_paint(a.contrast, b.contrast)) return false;
  const GroundPoint u = big.along();
  const auto off = [&](GroundPoint p) { return std::abs(cross(u, p - big.start)); };
  const double aside = std::max(off(small.start), off(small.end));
  const double s0 = dot(u, small.start - big.start), s1 = dot(u, small.end - big.start), lb = big.length();
  const double near = std::min(s0, s1), far = std::max(s0, s1);
  const double gap = std::max({0.0, near - lb, -far});
  if (aside > 0.5 * big.width_mm + 0.02 * gap + small.cell_mm) return false;
  // overlap along the axis: the same stripe found twice
  return gap <= std::max(400.0, 0.5 * (a.length() + b.length())) && gap < 2500;
}

Bar joined(const Bar& a, const Bar& b) {
  const Bar& big = a.length() >= b.length() ? a : b;
  const GroundPoint u = big.along();
  double low = 1e12, high = -1e12;
  bool low_cut = false, high_cut = false;
  for (const Bar* bar : {&a, &b}) {
    for (const auto& [p, cut] : {std::pair{bar->start, bar->start_cut}, std::pair{bar->end, bar->end_cut}}) {
      const double s = dot(u, p - big.start);
      if (s < low) low = s, low_cut = cut;
      if (s > high) high = s, high_cut = cut;
    }
  }
  const double la = a.length(), lb = b.length();
  Bar whole = big;
  // direction from the far ends: longer lever than either part
  const auto middle_at = [&](double s) {
    const Bar* owner = nullptr;
    double best = 1e12;
    for (const Bar* bar : {&a, &b}) {
      for (const GroundPoint p : {bar->start, bar->end}) {
        const double d = std::abs(dot(u, p - big.start) - s);
        if (d < best) best = d, owner = bar;
      }
    }
    const GroundPoint v = owner->along() * (dot(owner->along(), u) < 0 ? -1.0 : 1.0);
    const double t = (s - dot(u, owner->start - big.start)) / std::max(dot(v, u), 0.5);
    return owner->start + v * t;
  };
  whole.start = middle_at(low);
  whole.end = middle_at(high);
  whole.start_cut = low_cut;
  whole.end_cut = high_cut;
  whole.width_mm = (a.width_mm * la + b.width_mm * lb) / (la + lb);
  whole.filled = std::min(1.0, (a.filled * la + b.filled * lb) / std::max(whole.length(), 1.0));
  whole.cell_mm = std::max(a.cell_mm, b.cell_mm);
  for (int k = 0; k < kFinderKinds; ++k) whole.votes[k] = (a.votes[k] * la + b.votes[k] * lb) / (la + lb);
  return whole;
}

}  // namespace

PieceBars bars_of(const Piece& piece, const PaintMap& paint, const Ground& ground, std::size_t most_bars) {
  const Plan plan = plan_of(piece, paint, ground);
  const std::vector<cv::Point> points = points_of(plan.mask);
  if (points.size() < 12) return {};
  std::vector<Bar> bars;
  const Bar whole = bar_from_points(points, plan.place);
  const OneBar one = one_bar(points, plan);
  const double as_whole = agreement_of({whole}, plan);
  if (std::max(one.agreement, as_whole) > kOneBar || whole.length() < 1.5 * whole.width_mm) {
    bars.push_back(one.agreement > as_whole ? one.bar : whole);
  } else {
    std::vector<Bar> by_thickness = split_by_thickness(plan.mask, plan.place);
    // which of two answers is too many does not matter
    const bool either_is_too_many = by_thickness.empty() || by_thickness.size() > most_bars;
    bars = split(plan.mask, plan.place, either_is_too_many ? std::min(most_bars + 1, kMostBars) : kMostBars);
    if (either_is_too_many && bars.size() > most_bars) return {};
    if (agreement_of(by_thickness, plan) > agreement_of(bars, plan) + kBetterSplit) bars = std::move(by_thickness);
  }
  const double agreement = agreement_of(bars, plan);
  const double w = paint.footprint.cols, h = paint.footprint.rows;
  for (Bar& bar : bars) {
    bar.votes = piece.votes;
    bar.contrast = piece.contrast;
    const auto cell_of = [&](GroundPoint g) {
      const ImagePoint p = ground.image_from_ground(g);
      return cv::Point2d(p.x / paint.photo_per_cell, p.y / paint.photo_per_cell);
    };
    const auto leaves = [&](GroundPoint g) {
      const cv::Point2d c = cell_of(g);
      return c.x < 3 || c.y < 3 || c.x > w - 3 || c.y > h - 3;
    };
    bar.start_cut = leaves(bar.start);
    bar.end_cut = leaves(bar.end);
    const ImagePoint mid = ground.image_from_ground((bar.start + bar.end) * 0.5);
    const GroundPixel pixel = ground_pixel(ground, mid);
    bar.cell_mm = std::max(pixel.across_mm, pixel.along_mm) * paint.photo_per_cell;
  }
  return {std::move(bars), agreement};
}

std::vector<Bar> join_bars(std::vector<Bar> bars) {
  for (bool again = true; again;) {
    again = false;
    for (std::size_t i = 0; i < bars.size() && !again; ++i) {
      for (std::size_t j = i + 1; j < bars.size() && !again; ++j) {
        if (!one_stripe(bars[i], bars[j])) continue;
        bars[i] = joined(bars[i], bars[j]);
        bars.erase(bars.begin() + static_cast<std::ptrdiff_t>(j));
        again = true;
      }
    }
  }
  return bars;
}

}  // namespace lotwear
