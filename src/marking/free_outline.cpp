#include "marking/free_outline.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

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

/// Outline and hole as one ring, joined by a cut of no width: the survey knows outlines only.
GroundRing with_hole(const GroundRing& outer, const GroundRing& hole) {
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

}  // namespace

SettledPolygon settle_polygon(const GroundRing& corners, const Patch& patch, double cell_mm) {
  const double mm = patch.frame.mm_per_pixel, cell = std::max(1.0, cell_mm / mm);
  const Steps steps(patch.paintness);
  Ring<struct PatchFrame> ring;
  for (const GroundPoint& g : corners) ring.push_back(patch.frame.patch(g));
  const double outward = signed_area(ring) > 0 ? 1 : -1;
  struct Line { PatchPoint a, b; };
  std::vector<Line> lines;
  double seen = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const PatchPoint a = ring[i], b = ring[(i + 1) % ring.size()], d = b - a;
    const double len = std::max(1e-9, length(d));
    const PatchPoint n{outward * d.y / len, -outward * d.x / len};
    const int samples = std::clamp(static_cast<int>(len / 3), 4, 120);
    const auto score = [&](double s0, double s1) {
      double sum = 0;
      // corners belong to two edges: the middle nine tenths speak for this one
      for (int k = 0; k < samples; ++k) {
        const double t = 0.05 + 0.9 * (k + 0.5) / samples;
        sum += std::clamp(steps.falling(a + d * t + n * (s0 + (s1 - s0) * t), n), 0.0, 0.12);
      }
      return sum / samples - 0.004 * (s0 * s0 + s1 * s1) / (cell * cell);
    };
    double s0 = 0, s1 = 0, best = score(0, 0);
    for (double reach = 1.5 * cell, grid = std::max(0.5, reach / 8); grid > 0.2; reach = 2 * grid, grid /= 3) {
      const double c0 = s0, c1 = s1;
      for (double d0 = -reach; d0 <= reach + 1e-9; d0 += grid) {
        for (double d1 = -reach; d1 <= reach + 1e-9; d1 += grid) {
          const double v = score(c0 + d0, c1 + d1);
          if (v > best) best = v, s0 = c0 + d0, s1 = c1 + d1;
        }
      }
    }
    seen += std::clamp(best / 0.03, 0.0, 1.0) / static_cast<double>(ring.size());
    lines.push_back({a + n * s0, b + n * s1});
  }
  SettledPolygon settled;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const Line& p = lines[(i + lines.size() - 1) % lines.size()];
    const Line& q = lines[i];
    const PatchPoint u = p.b - p.a, v = q.b - q.a;
    const double turn = cross(u, v);
    const PatchPoint middle = (p.b + q.a) * 0.5;
    PatchPoint corner = middle;
    if (std::abs(turn) > 0.1 * length(u) * length(v)) corner = p.a + u * (cross(q.a - p.a, v) / turn);
    // nearly parallel neighbours meet far away: the old corner is the better guess
    if (length(corner - middle) > 4 * cell) corner = middle;
    settled.ring.push_back(patch.frame.ground(corner));
  }
  settled.edge_error_mm = seen * 0.5 * mm + (1 - seen) * 0.4 * cell_mm;
  return settled;
}

FreeOutline free_outline(const Patch& patch, double cell_mm) {
  const double cell = std::max(1.0, cell_mm / patch.frame.mm_per_pixel);
  const Steps steps(patch.paintness);
  std::vector<std::vector<cv::Point>> contours;
  std::vector<cv::Vec4i> tree;
  cv::findContours((patch.footprint > 0.5F) & patch.inside, contours, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  FreeOutline outline;
  outline.edge_error_mm = 0.35 * cell_mm;
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
      const SettledPolygon settled = settle_polygon(corners, patch, cell_mm);
      if (area(settled.ring) > 0.7 * area(ring) && area(settled.ring) < 1.4 * area(ring)) ring = settled.ring;
    }
    for (int h = tree[i][2]; h >= 0; h = tree[static_cast<std::size_t>(h)][0]) {
      const auto& hole = contours[static_cast<std::size_t>(h)];
      // smaller ones are paint gone, not a letter's counter
      if (static_cast<double>(hole.size()) < shortest || cv::contourArea(hole) < 6 * cell * cell) continue;
      const GroundRing inner = settle(chain_of(hole, true, spacing), steps, cell, patch.frame);
      // opposite turn, so that areas subtract
      GroundRing reversed(inner.rbegin(), inner.rend());
      if (signed_area(ring) * signed_area(reversed) > 0) reversed.assign(inner.begin(), inner.end());
      ring = with_hole(ring, reversed);
    }
    if (ring.size() >= 4) outline.rings.push_back(std::move(ring));
  }
  return outline;
}

}  // namespace lotwear
