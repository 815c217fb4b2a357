#include "rendering/ground_raster.hpp"

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

/// Columns between which a convex ring crosses a row; empty when it does not.
struct Cut {
  double from = 1e18, to = -1e18;
};
Cut cut_row(const GroundRing& ring, double y) {
  Cut cut;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
    if ((a.y <= y) == (b.y <= y)) continue;
    const double x = a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y);
    cut.from = std::min(cut.from, x);
    cut.to = std::max(cut.to, x);
  }
  return cut;
}

double pixel_across(const Camera& camera, GroundPoint at) {
  const auto a = camera.see(at), b = camera.see({at.x + 10, at.y});
  if (!a || !b) return 1;
  return 10 / std::max(1e-6, length(*b - *a));
}

Strip strip_over(const GroundRing& seen, const GroundRing& in_photo, double top, double bottom, double cell) {
  constexpr double margin = 6;  // cells
  Strip s;
  s.cell_mm = cell;
  s.seen_top_mm = top;
  s.seen_bottom_mm = bottom;
  s.top_mm = top - margin * cell;
  s.rows = static_cast<int>((bottom - top) / cell + 2 * margin) + 1;
  double left = 1e18, right = -1e18;
  std::vector<Cut> cuts;
  for (int r = 0; r < s.rows; ++r) {
    Cut cut = cut_row(seen, s.y_at(r));
    // a row just outside the ring still lends its neighbours a gradient
    for (const double step : {-margin, margin}) {
      const Cut near = cut_row(seen, s.y_at(r) + step * cell);
      cut = {std::min(cut.from, near.from), std::max(cut.to, near.to)};
    }
    cuts.push_back(cut);
    left = std::min(left, cut.from), right = std::max(right, cut.to);
  }
  if (left > right) return s;
  s.left_mm = left - margin * cell;
  s.cols = static_cast<int>((right - left) / cell + 2 * margin) + 1;
  for (int r = 0; r < s.rows; ++r) {
    const Cut exact = cut_row(in_photo, s.y_at(r));
    Span span;
    if (cuts[static_cast<std::size_t>(r)].from <= cuts[static_cast<std::size_t>(r)].to) {
      span.from = static_cast<int>((cuts[static_cast<std::size_t>(r)].from - s.left_mm) / cell - margin);
      span.to = static_cast<int>((cuts[static_cast<std::size_t>(r)].to - s.left_mm) / cell + margin) + 1;
    }
    span.from = std::clamp(span.from, 0, s.cols);
    span.to = std::clamp(span.to, 0, s.cols);
    const bool used = s.y_at(r) >= top && s.y_at(r) < bottom;
    span.seen_from = used ? exact.from : 1e18;
    span.seen_to = used ? exact.to : -1e18;
    s.spans.push_back(span);
  }
  s.albedo.create(s.rows, s.cols, CV_32FC3);
  s.albedo.setTo(cv::Scalar::all(0));
  s.height = cv::Mat::zeros(s.rows, s.cols, CV_32F);
  s.rank = cv::Mat::zeros(s.rows, s.cols, CV_32F);
  for (cv::Mat* plane : {&s.crack, &s.film, &s.tyre, &s.wet})
    *plane = cv::Mat::zeros(s.rows, s.cols, CV_8U);
  return s;
}

}  // namespace

std::vector<Strip> strips_for(const Camera& camera, double far_mm) {
  const GroundRing seen = visible_ground(camera, far_mm, 0.1), in_photo = visible_ground(camera, far_mm, 0);
  std::vector<Strip> strips;
  if (seen.size() < 3) return strips;
  double top = 1e18, bottom = -1e18;
  for (const GroundPoint& p : seen)
    top = std::min(top, p.y), bottom = std::max(bottom, p.y);
  constexpr double cells_per_pixel = 0.75;
  double near = bottom;
  while (near > top + 1 && strips.size() < 6) {
    const double cell = std::clamp(pixel_across(camera, {0, near}) / cells_per_pixel, 0.4, 8.0);
    double far = near;
    while (far > top && pixel_across(camera, {0, far}) < 1.5 * cell * cells_per_pixel)
      far -= 20;
    if (strips.size() == 5 || far < top + 100) far = top;
    Strip strip = strip_over(seen, in_photo, far, near, cell);
    if (strip.cols > 0) strips.push_back(std::move(strip));
    near = far;
  }
  return strips;
}

CoarseField::CoarseField(const Strip& strip, const PavementPlan& plan, double feature_x_mm, double feature_y_mm,
                         int which)
    : grid_(strip.rows / kStep + 2, strip.cols / kStep + 2, CV_32F) {
  const SoftTile& soft = tiles().soft;
  const double c = std::cos(plan.turn), s = std::sin(plan.turn);
  for (int r = 0; r < grid_.rows; ++r) {
    float* row = grid_.ptr<float>(r);
    for (int col = 0; col < grid_.cols; ++col) {
      const double x = strip.x_at(col * kStep) + plan.shift.x + 7919.0 * which,
                   y = strip.y_at(r * kStep) + plan.shift.y;
      row[col] =
          soft(static_cast<float>((c * x + s * y) / feature_x_mm), static_cast<float>((c * y - s * x) / feature_y_mm));
    }
  }
}

}  // namespace lotwear::rendering
