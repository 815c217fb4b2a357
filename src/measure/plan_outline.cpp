#include "measure/plan_outline.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <utility>

namespace lotwear {
namespace {

constexpr int kShift = 8;  // fillPoly's fixed-point bits

/// Puts exact distances where an edge is near: distances to pixel centres are off by up to half a pixel.
void refine_near_edges(cv::Mat& signed_mm, const std::vector<GroundRing>& rings, const PlanView& plan) {
  const double reach = 2.5 * plan.mm_per_pixel;
  struct Edge {
    GroundPoint a, b;
  };
  cv::Mat exact(signed_mm.size(), CV_32F, cv::Scalar(1e9));
  for (const GroundRing& ring : rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const GroundPoint a = turned(ring[i] - plan.origin, -plan.turn_rad);
      const GroundPoint b = turned(ring[(i + 1) % ring.size()] - plan.origin, -plan.turn_rad);
      const GroundPoint ab = b - a;
      const double long2 = dot(ab, ab);
      const double mm = plan.mm_per_pixel;
      const int top = std::max(0, static_cast<int>((std::min(a.y, b.y) - reach) / mm));
      const int bottom = std::min(signed_mm.rows - 1, static_cast<int>((std::max(a.y, b.y) + reach) / mm));
      for (int r = top; r <= bottom; ++r) {
        const double y = (r + 0.5) * mm;
        // The stretch of the edge within reach of this row bounds the columns.
        double t0 = 0, t1 = 1;
        if (std::abs(ab.y) > 1e-9) {
          const double u = (y - reach - a.y) / ab.y, v = (y + reach - a.y) / ab.y;
          t0 = std::clamp(std::min(u, v), 0.0, 1.0), t1 = std::clamp(std::max(u, v), 0.0, 1.0);
        }
        const double x0 = a.x + t0 * ab.x, x1 = a.x + t1 * ab.x;
        const int left = std::max(0, static_cast<int>((std::min(x0, x1) - reach) / mm));
        const int right = std::min(signed_mm.cols - 1, static_cast<int>((std::max(x0, x1) + reach) / mm));
        float* row = exact.ptr<float>(r);
        for (int c = left; c <= right; ++c) {
          const GroundPoint p{(c + 0.5) * mm, y};
          const double t = long2 > 0 ? std::clamp(dot(p - a, ab) / long2, 0.0, 1.0) : 0.0;
          const double d = length(p - (a + ab * t));
          row[c] = std::min(row[c], static_cast<float>(d));
        }
      }
    }
  }
  for (int r = 0; r < signed_mm.rows; ++r) {
    float* coarse = signed_mm.ptr<float>(r);
    const float* fine = exact.ptr<float>(r);
    for (int c = 0; c < signed_mm.cols; ++c) {
      if (static_cast<double>(fine[c]) < reach) coarse[c] = std::copysign(fine[c], coarse[c]);
    }
  }
}

bool within(GroundPoint p, const GroundRing& ring) {
  bool in = false;
  for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
    if ((ring[i].y > p.y) != (ring[j].y > p.y) &&
        p.x < (ring[j].x - ring[i].x) * (p.y - ring[i].y) / (ring[j].y - ring[i].y) + ring[i].x) {
      in = !in;
    }
  }
  return in;
}

}  // namespace

GroundPoint turned(GroundPoint p, double angle) {
  const double c = std::cos(angle), s = std::sin(angle);
  return {p.x * c - p.y * s, p.x * s + p.y * c};
}

double main_direction(const std::vector<GroundRing>& rings) {
  double longest = -1, turn = 0;
  for (const GroundRing& ring : rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const GroundPoint edge = ring[(i + 1) % ring.size()] - ring[i];
      if (length(edge) > longest) {
        longest = length(edge);
        turn = std::atan2(edge.y, edge.x);
      }
    }
  }
  if (turn > std::numbers::pi / 2) turn -= std::numbers::pi;
  if (turn <= -std::numbers::pi / 2) turn += std::numbers::pi;
  return turn;
}

void fill_outline(cv::Mat& mask, const GroundRing& ring, const PlanView& plan) {
  std::vector<cv::Point> points;
  points.reserve(ring.size());
  for (const GroundPoint& g : ring) {
    const GroundPoint local = turned(g - plan.origin, -plan.turn_rad);
    const double limit = 1 << 20;
    const double x = std::clamp(local.x / plan.mm_per_pixel - 0.5, -limit, limit);
    const double y = std::clamp(local.y / plan.mm_per_pixel - 0.5, -limit, limit);
    points.emplace_back(cv::saturate_cast<int>(std::lround(x * (1 << kShift))),
                        cv::saturate_cast<int>(std::lround(y * (1 << kShift))));
  }
  if (points.size() >= 3)
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(1), cv::LINE_8, kShift);
}

cv::Mat signed_distance(const std::vector<GroundRing>& rings, const PlanView& plan) {
  cv::Mat inside(plan.light.size(), CV_8U, cv::Scalar(0));
  for (const GroundRing& ring : rings)
    fill_outline(inside, ring, plan);
  cv::Mat in, out, both;
  cv::distanceTransform(inside, in, cv::DIST_L2, cv::DIST_MASK_5);
  cv::distanceTransform(1 - inside, out, cv::DIST_L2, cv::DIST_MASK_5);
  both.create(inside.size(), CV_32F);
  const auto mm = static_cast<float>(plan.mm_per_pixel);
  for (int r = 0; r < inside.rows; ++r) {
    for (int c = 0; c < inside.cols; ++c) {
      both.at<float>(r, c) = inside.at<unsigned char>(r, c) != 0 ? std::max(0.0F, in.at<float>(r, c) - 0.5F) * mm
                                                                 : -std::max(0.01F, out.at<float>(r, c) - 0.5F) * mm;
    }
  }
  refine_near_edges(both, rings, plan);
  return both;
}

bool lies_on(const Footprint& upper, const Footprint& lower) {
  double corners = 0, inside = 0;
  for (const GroundRing& ring : upper.rings) {
    for (const GroundPoint& p : ring) {
      corners += 1;
      for (const GroundRing& outer : lower.rings) {
        if (outer.size() >= 3 && within(p, outer)) {
          inside += 1;
          break;
        }
      }
    }
  }
  return corners > 0 && inside >= 0.9 * corners;
}

double stripe_pixels(const GroundRing& ring, double turn_rad, double width_mm, const Ground& ground) {
  const GroundPoint across = turned({0, width_mm / 2}, turn_rad);
  std::vector<std::pair<double, double>> seen;  // pixels across, weight
  double all = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    for (double t = 0.02; t < 1; t += 0.04) {
      const GroundPoint here = ring[i] * (1 - t) + ring[(i + 1) % ring.size()] * t,
                        next = here + (ring[(i + 1) % ring.size()] - ring[i]) * 0.04;
      const double pixels = length(ground.image_from_ground(here + across) - ground.image_from_ground(here - across));
      seen.emplace_back(pixels, pixels * length(ground.image_from_ground(next) - ground.image_from_ground(here)));
      all += seen.back().second;
    }
  }
  std::sort(seen.begin(), seen.end());
  double sum = 0;
  for (const auto& [pixels, weight] : seen) {
    if ((sum += weight) >= all / 2) return pixels;
  }
  return 0;
}

}  // namespace lotwear
