#include "marking/shape_edges.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "base/trouble.hpp"
#include "marking/map_agreement.hpp"

namespace lotwear {

namespace {

/// How paintness changes from pixel to pixel, right and down.
struct Gradient {
  cv::Mat x, y;
};

Gradient gradient_of(const cv::Mat& paintness) {
  cv::Mat smooth;
  cv::GaussianBlur(paintness, smooth, {0, 0}, 1.5, 1.5, cv::BORDER_REPLICATE);
  const cv::Mat difference = (cv::Mat_<float>(1, 3) << -0.5F, 0.0F, 0.5F);
  Gradient gradient;
  cv::filter2D(smooth, gradient.x, CV_32F, difference, {-1, -1}, 0, cv::BORDER_REPLICATE);
  cv::filter2D(smooth, gradient.y, CV_32F, difference.t(), {-1, -1}, 0, cv::BORDER_REPLICATE);
  return gradient;
}

void refine_pose(FittedShape& fitted, const Patch& patch, const Gradient& gradient, const std::vector<Shape>& shapes,
                 double cell_mm) {
  const Shape& shape = shapes[fitted.pose.shape];
  const double mm = patch.frame.mm_per_pixel, cell_px = cell_mm / mm;
  const cv::Mat &gx = gradient.x, &gy = gradient.y;
  const auto step_at = [&](PatchPoint p, PatchPoint outward) {
    const int c = static_cast<int>(std::floor(p.x)), r = static_cast<int>(std::floor(p.y));
    if (c < 0 || r < 0 || c >= gx.cols || r >= gx.rows || patch.inside.at<uchar>(r, c) == 0) return 0.0;
    const double falling =
        -(outward.x * static_cast<double>(gx.at<float>(r, c)) + outward.y * static_cast<double>(gy.at<float>(r, c)));
    return std::clamp(falling, 0.0, 0.12);
  };

  const Knobs knobs{std::max(1.0, cell_px)};
  const auto pack = [&](const ShapePose& p) { return knobs.pack(p, shape); };
  const auto unpack = [&](const std::vector<double>& v) { return knobs.unpack(v, fitted.pose, shape); };
  Drawing drawing(shape, mm);
  const std::vector<PatchRing> first = drawing.at(fitted.pose);
  std::vector<int> counts;
  for (const PatchRing& ring : first)
    counts.push_back(std::clamp(static_cast<int>(perimeter(ring) / 6), 12, 500));

  std::vector<double> v = pack(fitted.pose);
  std::vector<double> misses;
  double support = 0, clear = 0;
  for (int round = 0; round < 12; ++round) {
    // the finder's haze makes ends too long by up to a hand's breadth
    const double reach = std::max(3.0, std::max(2.4 * cell_px, 70 / mm) * std::pow(0.72, round));
    const Rim rim = rim_of(drawing.at(unpack(v)), counts);
    const int n = static_cast<int>(rim.points.size()), k = static_cast<int>(v.size());
    cv::Mat jacobian(n, k, CV_64F), wanted(n, 1, CV_64F, cv::Scalar(0)), weight(n, 1, CV_64F, cv::Scalar(0));
    for (int j = 0; j < k; ++j) {
      std::vector<double> moved = v;
      moved[static_cast<std::size_t>(j)] += 0.1;
      const Rim there = rim_of(drawing.at(unpack(moved)), counts);
      require(there.points.size() == rim.points.size(),
              "a shape keeps its number of pieces while its proportions change");
      for (int i = 0; i < n; ++i) {
        const auto u = static_cast<std::size_t>(i);
        jacobian.at<double>(i, j) = dot(there.points[u] - rim.points[u], rim.normals[u]) / 0.1;
      }
    }
    misses.clear();
    support = clear = 0;
    for (int i = 0; i < n; ++i) {
      const auto u = static_cast<std::size_t>(i);
      double best = 0.035, where = 0;
      for (double d = -reach; d <= reach; d += 0.5) {
        const double s = step_at(rim.points[u] + rim.normals[u] * d, rim.normals[u]) * (1 - 0.35 * std::abs(d) / reach);
        if (s > best) best = s, where = d;
      }
      if (best <= 0.035) continue;
      wanted.at<double>(i) = where;
      // worn rims lie inside the painted one, seldom outside: steps far inside count less
      const double tukey = std::pow(std::max(0.0, 1 - std::pow(where / (1.1 * reach), 2)), 2);
      weight.at<double>(i) = best * (where < -0.5 * reach ? 0.5 : 1.0) * tukey;
      misses.push_back(std::abs(where));
      support += 1;
      if (std::abs(where) <= 1.5) clear += best / 0.12;
    }
    support /= std::max(1, n);
    clear /= std::max(1, n);
    if (support < 0.1) break;
    cv::Mat weighted = jacobian.clone();
    for (int i = 0; i < n; ++i)
      weighted.row(i) *= weight.at<double>(i);
    cv::Mat normal = jacobian.t() * weighted, right = weighted.t() * wanted;
    const double trace = cv::trace(normal)[0] / k;
    for (int j = 0; j < k; ++j) {
      // priors: proportions, squeeze and shear stay near the trade's drawing unless the edges insist
      const bool place = j < static_cast<int>(Knobs::kPlace);
      normal.at<double>(j, j) += place ? 1e-4 * trace : 0.006 * trace;
      if (!place) right.at<double>(j) -= 0.0012 * trace * v[static_cast<std::size_t>(j)];
    }
    cv::Mat delta;
    if (!cv::solve(normal, right, delta, cv::DECOMP_CHOLESKY)) break;
    for (int j = 0; j < k; ++j)
      v[static_cast<std::size_t>(j)] += std::clamp(delta.at<double>(j), -1.5, 1.5);
  }
  fitted.pose = unpack(v);
  fitted.support = support;
  fitted.clear_rim = clear;
  fitted.rings.clear();
  for (const PatchRing& ring : drawing.at(fitted.pose)) {
    GroundRing g;
    for (const PatchPoint& p : ring)
      g.push_back(patch.frame.ground(p));
    fitted.rings.push_back(std::move(g));
  }
  double scatter = 3;
  if (!misses.empty()) {
    std::nth_element(misses.begin(), misses.begin() + static_cast<std::ptrdiff_t>(misses.size() / 2), misses.end());
    scatter = 1.48 * misses[misses.size() / 2];
  }
  const double looks = std::max(1.0, static_cast<double>(misses.size()) / 4),
               trust = std::clamp(support / 0.3, 0.0, 1.0);
  fitted.edge_error_mm = trust * mm * std::sqrt(0.4 * 0.4 + scatter * scatter / looks) + (1 - trust) * 0.5 * cell_mm;
}

}  // namespace

void refine_shape(FittedShape& fitted, const Patch& patch, const std::vector<Shape>& shapes, double cell_mm) {
  const cv::Mat map = shrunk(patch.footprint, 160);
  cv::Mat inside;
  cv::resize(patch.inside, inside, map.size(), 0, 0, cv::INTER_NEAREST);
  const double map_mm =
      patch.frame.mm_per_pixel * std::max(patch.frame.width, patch.frame.height) / std::max(map.cols, map.rows);
  MapAgreement agreement(map, inside);
  const Gradient gradient = gradient_of(patch.paintness);
  // overlap says where paint is, the rim says how it was drawn: a good drawing has both
  const auto refined = [&](const ShapePose& pose) {
    FittedShape tried = fitted;
    tried.pose = pose;
    tried.kind = shapes[pose.shape].kind;
    refine_pose(tried, patch, gradient, shapes, cell_mm);
    tried.agreement = agreement.of(
        rings_in_patch(moved_to(tried.pose, patch.frame.mm_per_pixel / map_mm), shapes[tried.pose.shape], map_mm));
    return tried;
  };
  const auto worth = [](const FittedShape& f) { return f.agreement + 0.6 * f.clear_rim; };
  std::vector<FittedShape> all = {refined(fitted.pose)};
  for (const ShapePose& rival : fitted.rivals)
    all.push_back(refined(rival));
  // the shaft alone has the clearest rim of a worn arrow: a bar that covers less paint is no better drawing of it
  const double first_agreement = all.front().agreement;
  if (is_arrow(fitted.kind))
    std::erase_if(
        all, [&](const FittedShape& f) { return f.kind == Kind::stop_line && f.agreement < first_agreement - 0.02; });
  std::stable_sort(all.begin(), all.end(),
                   [&](const FittedShape& a, const FittedShape& b) { return worth(a) > worth(b); });
  fitted = all.front();
  for (const FittedShape& other : all) {
    if (other.kind == fitted.kind) continue;
    fitted.runner_up = fitted.agreement - (worth(fitted) - worth(other));
    fitted.runner_up_kind = other.kind;
    break;
  }
}

}  // namespace lotwear
