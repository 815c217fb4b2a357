#include "marking/free_outline.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/grow_mask.hpp"

namespace lotwear {

namespace {

/// Contour points every few pixels, corner convention, with outward normals from the neighbours.
struct Chain {
  std::vector<PatchPoint> points, normals;
};

Chain chain_of(const std::vector<cv::Point>& contour, bool hole, double spacing) {
  Chain chain;
  const std::size_t n = contour.size(), stride = std::max<std::size_t>(1, static_cast<std::size_t>(spacing));
  // away from the paint: out of an outline, into a hole
  const double sign = (cv::contourArea(contour, true) > 0) != hole ? 1 : -1;
  for (std::size_t i = 0; i < n; i += stride) {
    const cv::Point before = contour[(i + n - stride) % n], after = contour[(i + stride) % n];
    const double dx = after.x - before.x, dy = after.y - before.y, len = std::max(1e-9, std::hypot(dx, dy));
    chain.points.push_back({contour[i].x + 0.5, contour[i].y + 0.5});
    chain.normals.push_back({sign * dy / len, -sign * dx / len});
  }
  // contours run through pixel centres: the outline lies half a pixel further out
  for (std::size_t i = 0; i < chain.points.size(); ++i) chain.points[i] = chain.points[i] + chain.normals[i] * 0.5;
  return chain;
}

/// Steps of the paintness, to move outlines onto.
struct Steps {
  cv::Mat gx, gy;
  explicit Steps(const cv::Mat& paintness) {
    cv::Mat smooth;
    cv::GaussianBlur(paintness, smooth, {0, 0}, 1.5, 1.5, cv::BORDER_REPLICATE);
    cv::Sobel(smooth, gx, CV_32F, 1, 0, 3, 1.0 / 8);
    cv::Sobel(smooth, gy, CV_32F, 0, 1, 3, 1.0 / 8);
  }
  double falling(PatchPoint p, PatchPoint outward) const {
    const int c = static_cast<int>(std::floor(p.x)), r = static_cast<int>(std::floor(p.y));
    if (c < 0 || r < 0 || c >= gx.cols || r >= gx.rows) return 0;
    return -(outward.x * static_cast<double>(gx.at<float>(r, c)) + outward.y * static_cast<double>(gy.at<float>(r, c)));
  }
};

/// The contour moved along its normals to the nearest clear steps.
GroundRing settle(const Chain& chain, const Steps& steps, double cell, const PatchPlace& place) {
  const std::size_t n = chain.points.size();
  std::vector<double> shift(n, 0);
  for (std::size_t i = 0; i < n; ++i) {
    double best = 0.04;
    for (double d = -1.2 * cell; d <= 1.2 * cell; d += 0.5) {
      const double step = std::min(steps.falling(chain.points[i] + chain.normals[i] * d, chain.normals[i]), 0.12);
      const double v = step * (1 - 0.4 * std::abs(d) / (1.2 * cell));
      if (v > best) best = v, shift[i] = d;
    }
  }
  GroundRing ring;
  for (std::size_t i = 0; i < n; ++i) {
    // a median over the neighbours: one flake's rim does not dent the outline
    std::array<double, 7> near{};
    for (std::size_t k = 0; k < near.size(); ++k) near[k] = shift[(i + n + k - 3) % n];
    std::nth_element(near.begin(), near.begin() + 3, near.end());
    ring.push_back(place.ground(chain.points[i] + chain.normals[i] * near[3]));
  }
  return ring;
}

}  // namespace

namespace {

using PatchRing = Ring<struct PatchFrame>;

/// A stretch of outline between two corners: straight or evenly curved, moved as one.
struct Stretch {
  std::vector<PatchPoint> points;     ///< its corners included
  std::vector<double> along;          ///< 0..1 of its length, a point each
  double length = 0;
  double shift_start = 0, shift_end = 0, bow = 0;

  double shift(double t) const { return shift_start + (shift_end - shift_start) * t + bow * 4 * t * (1 - t); }
};

constexpr double kCornerTurn = 0.44;   // radians, 25 degrees: less is a curve drawn with short sides

std::vector<Stretch> stretches_of(const PatchRing& ring) {
  const std::size_t n = ring.size();
  std::vector<std::size_t> corners;
  for (std::size_t i = 0; i < n; ++i) {
    const PatchPoint u = ring[i] - ring[(i + n - 1) % n], v = ring[(i + 1) % n] - ring[i];
    if (std::abs(std::atan2(cross(u, v), dot(u, v))) > kCornerTurn) corners.push_back(i);
  }
  if (corners.empty()) corners = {0, n / 2};
  std::vector<Stretch> stretches;
  for (std::size_t k = 0; k < corners.size(); ++k) {
    Stretch stretch;
    const std::size_t from = corners[k], to = corners[(k + 1) % corners.size()];
    for (std::size_t i = from;; i = (i + 1) % n) {
      stretch.points.push_back(ring[i]);
      if (i == to && stretch.points.size() > 1) break;
    }
    stretch.along.push_back(0);
    for (std::size_t i = 1; i < stretch.points.size(); ++i) {
      stretch.length += length(stretch.points[i] - stretch.points[i - 1]);
      stretch.along.push_back(stretch.length);
    }
    for (double& t : stretch.along) t /= std::max(stretch.length, 1e-9);
    stretches.push_back(std::move(stretch));
  }
  return stretches;
}

struct RimSample {
  PatchPoint at, outward;
  double t = 0;
};

std::vector<RimSample> samples_on(const Stretch& stretch, double outward) {
  std::vector<RimSample> samples;
  const int count = std::clamp(static_cast<int>(stretch.length / 3), 4, 160);
  std::size_t i = 0;
  for (int k = 0; k < count; ++k) {
    // corners belong to two stretches: the middle nine tenths speak for this one
    const double t = 0.05 + 0.9 * (k + 0.5) / count;
    while (i + 2 < stretch.points.size() && stretch.along[i + 1] < t) ++i;
    const PatchPoint a = stretch.points[i], d = stretch.points[i + 1] - a;
    const double len = std::max(1e-9, length(d)), f = (t - stretch.along[i]) / std::max(1e-9, stretch.along[i + 1] - stretch.along[i]);
    samples.push_back({a + d * f, {outward * d.y / len, -outward * d.x / len}, t});
  }
  return samples;
}

/// Moves a stretch to where the brightness steps add up; returns how clear they are there, 0..1.
double settle_stretch(Stretch& stretch, const Steps& steps, double outward, double cell, double reach) {
  const std::vector<RimSample> samples = samples_on(stretch, outward);
  const auto score = [&](double s0, double s1, double bow) {
    double sum = 0;
    for (const RimSample& sample : samples) {
      const double shift = s0 + (s1 - s0) * sample.t + bow * 4 * sample.t * (1 - sample.t);
      const double step = steps.falling(sample.at + sample.outward * shift, sample.outward);
      if (step > 0) sum += step / (1 + step / 0.12);
    }
    return sum / static_cast<double>(samples.size()) - 0.004 * (s0 * s0 + s1 * s1 + 2 * bow * bow) / (cell * cell);
  };
  double best = score(0, 0, 0);
  for (double grid = std::max(0.5, std::min(1.5, reach / 6)), span = reach; grid > 0.2; span = 2 * grid, grid /= 3) {
    const double c0 = stretch.shift_start, c1 = stretch.shift_end, cb = stretch.bow;
    for (double d0 = -span; d0 <= span + 1e-9; d0 += grid) {
      for (double d1 = -span; d1 <= span + 1e-9; d1 += grid) {
        const double v = score(c0 + d0, c1 + d1, cb);
        if (v > best) best = v, stretch.shift_start = c0 + d0, stretch.shift_end = c1 + d1;
      }
    }
    if (stretch.points.size() < 3 && stretch.length < 12 * cell) continue;
    for (double d = -span; d <= span + 1e-9; d += grid) {
      const double v = score(stretch.shift_start, stretch.shift_end, cb + d);
      if (v > best) best = v, stretch.bow = cb + d;
    }
  }
  return std::clamp(best / 0.03, 0.0, 1.0);
}

PatchPoint normal_of(PatchPoint a, PatchPoint b, double outward) {
  const PatchPoint d = b - a;
  const double len = std::max(1e-9, length(d));
  return {outward * d.y / len, -outward * d.x / len};
}

}  // namespace

GroundRing with_hole(const GroundRing& outer, const GroundRing& inner) {
  // opposite turn, so that areas subtract
  GroundRing hole = inner;
  if (signed_area(outer) * signed_area(hole) > 0) std::reverse(hole.begin(), hole.end());
  std::size_t at = 0, into = 0;
  double nearest = 1e300;
  for (std::size_t i = 0; i < outer.size(); ++i) {
    for (std::size_t j = 0; j < hole.size(); ++j) {
      const double d = length(outer[i] - hole[j]);
      if (d < nearest) nearest = d, at = i, into = j;
    }
  }
  GroundRing ring(outer.begin(), outer.begin() + static_cast<std::ptrdiff_t>(at) + 1);
  for (std::size_t k = 0; k <= hole.size(); ++k) ring.push_back(hole[(into + k) % hole.size()]);
  ring.insert(ring.end(), outer.begin() + static_cast<std::ptrdiff_t>(at), outer.end());
  return ring;
}

SettledRing settle_ring(const GroundRing& drawn, const Patch& patch, double cell_mm, double reach_cells) {
  const double mm = patch.frame.mm_per_pixel, cell = std::max(1.0, cell_mm / mm);
  const Steps steps(patch.paintness);
  PatchRing ring;
  for (const GroundPoint& g : drawn) ring.push_back(patch.frame.patch(g));
  const double outward = signed_area(ring) > 0 ? 1 : -1;
  std::vector<Stretch> stretches = stretches_of(ring);
  double seen = 0, whole = 0;
  for (Stretch& stretch : stretches) {
    seen += stretch.length * settle_stretch(stretch, steps, outward, cell, reach_cells * cell);
    whole += stretch.length;
  }
  SettledRing settled;
  for (std::size_t k = 0; k < stretches.size(); ++k) {
    const Stretch& before = stretches[(k + stretches.size() - 1) % stretches.size()];
    const Stretch& here = stretches[k];
    // the corner moves so that both its sides move as they want to
    const PatchPoint corner = here.points.front();
    const PatchPoint m = normal_of(before.points[before.points.size() - 2], before.points.back(), outward);
    const PatchPoint n = normal_of(here.points[0], here.points[1], outward);
    const double sm = before.shift(1), sn = here.shift(0), turn = cross(m, n);
    PatchPoint moved = corner + (m * sm + n * sn) * 0.5;
    if (std::abs(turn) > 0.2) moved = corner + PatchPoint{(sm * n.y - sn * m.y) / turn, (sn * m.x - sm * n.x) / turn};
    if (length(moved - corner) > 3 * reach_cells * cell) moved = corner + (m * sm + n * sn) * 0.5;
    settled.ring.push_back(patch.frame.ground(moved));
    for (std::size_t i = 1; i + 1 < here.points.size(); ++i) {
      const PatchPoint across = normal_of(here.points[i - 1], here.points[i + 1], outward);
      settled.ring.push_back(patch.frame.ground(here.points[i] + across * here.shift(here.along[i])));
    }
    // a straight side that bows (lens) needs points to bow with
    if (here.points.size() == 2 && std::abs(here.bow) > 0.5) {
      for (int i = 1; i < 8; ++i) {
        const double t = i / 8.0;
        settled.ring.push_back(patch.frame.ground(here.points[0] + (here.points[1] - here.points[0]) * t + n * here.shift(t)));
      }
    }
  }
  const double clear = seen / std::max(whole, 1e-9);
  settled.edge_error_mm = clear * 0.5 * mm + (1 - clear) * 0.4 * cell_mm;
  return settled;
}

double stroke_width(const cv::Mat& mask) {
  constexpr double kOfRidge = 0.65;   // bites make strokes look narrower, crossings wider
  cv::Mat inside, highest;
  cv::distanceTransform(mask, inside, cv::DIST_L2, cv::DIST_MASK_5);
  cv::dilate(inside, highest, cv::Mat::ones(3, 3, CV_8U));
  std::vector<float> ridge;
  for (int r = 0; r < inside.rows; ++r) {
    for (int c = 0; c < inside.cols; ++c) {
      const float d = inside.at<float>(r, c);
      if (d > 1 && d >= highest.at<float>(r, c)) ridge.push_back(d);
    }
  }
  if (ridge.empty()) return 0;
  const auto at = ridge.begin() + static_cast<std::ptrdiff_t>(kOfRidge * static_cast<double>(ridge.size() - 1));
  std::nth_element(ridge.begin(), at, ridge.end());
  return 2 * static_cast<double>(*at);
}

namespace {

/// Bites out of the strokes' edges filled, as far as they are narrower than the gaps between strokes may be.
cv::Mat bridged(const cv::Mat& mask, double width) {
  constexpr double kNarrowestGap = 0.8;   // of a stroke's width, in the trade's stencils (common practice, no source)
  const int across = static_cast<int>(kNarrowestGap * width) | 1;
  cv::Mat roomy;
  cv::copyMakeBorder(mask, roomy, across, across, across, across, cv::BORDER_CONSTANT, cv::Scalar(0));
  const cv::Mat closed = shrunk_by_disc(grown_by_disc(roomy, across), across);
  return closed(cv::Rect({across, across}, mask.size())).clone();
}

}  // namespace

FreeOutline free_outline(const Patch& patch, double cell_mm, Outlined what) {
  const double cell = std::max(1.0, cell_mm / patch.frame.mm_per_pixel);
  const Steps steps(patch.paintness);
  cv::Mat mask = (patch.footprint > 0.5F) & patch.inside;
  const double stroke = what == Outlined::letters ? stroke_width(mask) : 0;
  if (stroke > 0) mask = bridged(mask, stroke) & patch.inside;
  std::vector<std::vector<cv::Point>> contours;
  std::vector<cv::Vec4i> tree;
  cv::findContours(mask, contours, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  FreeOutline outline;
  outline.edge_error_mm = 0.35 * cell_mm;
  constexpr double kSmallestCounter = 0.6;   // of the square of a stroke's width
  const double spacing = std::max(2.0, 0.4 * cell), shortest = 6 * cell;
  for (std::size_t i = 0; i < contours.size(); ++i) {
    if (tree[i][3] >= 0 || static_cast<double>(contours[i].size()) < shortest) continue;
    GroundRing ring = settle(chain_of(contours[i], false, spacing), steps, cell, patch.frame);
    std::vector<cv::Point> straight;
    cv::approxPolyDP(contours[i], straight, 1.1 * cell, true);
    // few corners: stencil letters and the like have straight edges, and chips must not dent them
    if (straight.size() >= 3 && straight.size() <= 14) {
      GroundRing corners;
      for (const cv::Point& p : straight) corners.push_back(patch.frame.ground({p.x + 0.5, p.y + 0.5}));
      const SettledRing settled = settle_ring(corners, patch, cell_mm, 1.5);
      if (area(settled.ring) > 0.7 * area(ring) && area(settled.ring) < 1.4 * area(ring)) ring = settled.ring;
    }
    for (int h = tree[i][2]; h >= 0; h = tree[static_cast<std::size_t>(h)][0]) {
      const auto& hole = contours[static_cast<std::size_t>(h)];
      // smaller ones are paint gone, not a letter's counter
      if (static_cast<double>(hole.size()) < shortest || cv::contourArea(hole) < std::max(6 * cell * cell, kSmallestCounter * stroke * stroke)) continue;
      const GroundRing inner = settle(chain_of(hole, true, spacing), steps, cell, patch.frame);
      ring = with_hole(ring, inner);
    }
    if (ring.size() >= 4) outline.rings.push_back(std::move(ring));
  }
  return outline;
}

}  // namespace lotwear
