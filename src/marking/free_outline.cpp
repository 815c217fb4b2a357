#include "marking/free_outline.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

/// Contour points every few pixels, corner convention, with outward normals from the neighbours.
struct Chain {
  std::vector<PatchPoint> points, normals;
};

Chain chain_of(const std::vector<cv::Point>& contour, double spacing) {
  Chain chain;
  const std::size_t n = contour.size(), stride = std::max<std::size_t>(1, static_cast<std::size_t>(spacing));
  const double sign = cv::contourArea(contour, true) > 0 ? 1 : -1;
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

}  // namespace

FreeOutline free_outline(const Patch& patch, double cell_mm) {
  const double mm = patch.frame.mm_per_pixel, cell = std::max(1.0, cell_mm / mm);
  cv::Mat smooth, gx, gy;
  cv::GaussianBlur(patch.paintness, smooth, {0, 0}, 1.5, 1.5, cv::BORDER_REPLICATE);
  cv::Sobel(smooth, gx, CV_32F, 1, 0, 3, 1.0 / 8);
  cv::Sobel(smooth, gy, CV_32F, 0, 1, 3, 1.0 / 8);
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours((patch.footprint > 0.5F) & patch.inside, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  FreeOutline outline;
  outline.edge_error_mm = 0.35 * cell_mm;
  for (const auto& contour : contours) {
    if (static_cast<double>(contour.size()) < 6 * cell) continue;
    Chain chain = chain_of(contour, std::max(2.0, 0.4 * cell));
    const std::size_t n = chain.points.size();
    std::vector<double> shift(n, 0);
    for (std::size_t i = 0; i < n; ++i) {
      double best = 0.04;
      for (double d = -1.2 * cell; d <= 1.2 * cell; d += 0.5) {
        const PatchPoint p = chain.points[i] + chain.normals[i] * d;
        const int c = static_cast<int>(std::floor(p.x)), r = static_cast<int>(std::floor(p.y));
        if (c < 0 || r < 0 || c >= gx.cols || r >= gx.rows) continue;
        const double falling = -(chain.normals[i].x * static_cast<double>(gx.at<float>(r, c)) + chain.normals[i].y * static_cast<double>(gy.at<float>(r, c)));
        const double v = std::min(falling, 0.12) * (1 - 0.4 * std::abs(d) / (1.2 * cell));
        if (v > best) best = v, shift[i] = d;
      }
    }
    GroundRing ring;
    for (std::size_t i = 0; i < n; ++i) {
      // a median over the neighbours: one flake's rim does not dent the outline
      std::array<double, 7> near{};
      for (std::size_t k = 0; k < near.size(); ++k) near[k] = shift[(i + n + k - 3) % n];
      std::nth_element(near.begin(), near.begin() + 3, near.end());
      ring.push_back(patch.frame.ground(chain.points[i] + chain.normals[i] * near[3]));
    }
    if (ring.size() >= 4) outline.rings.push_back(std::move(ring));
  }
  return outline;
}

}  // namespace lotwear
