#include "rendering/true_layers.hpp"

#include <algorithm>
#include <opencv2/core.hpp>

#include "rendering/fill.hpp"
#include "rendering/photograph.hpp"
#include "rendering/solids.hpp"

namespace lotwear::rendering {

namespace {

constexpr float kNothing = -1;

/// `look` at the strips with one of their planes of shares instead of light.
cv::Mat look_at(const Camera& camera, std::vector<Strip> strips, cv::Mat Strip::*shares, const ScenePlan& plan,
                double far_mm) {
  for (Strip& strip : strips)
    strip.albedo = strip.*shares;
  return look(camera, strips, plan, far_mm, {0, 0, 0});
}

/// Hedge, wall and sky glow in the third channel, far brighter than any share.
ScenePlan with_glowing_backdrop(ScenePlan plan) {
  plan.light.sun = 1;
  plan.backdrop_colour = {0, 0, 1000};
  plan.light.sky_colour = {0, 0, 1000};
  return plan;
}

ScenePlan with_dark_backdrop(ScenePlan plan) {
  plan.backdrop_colour = plan.light.sky_colour = {0, 0, 0};
  return plan;
}

cv::Mat outlines(const Camera& camera, const std::vector<MarkingPlan>& markings) {
  cv::Mat kinds = cv::Mat::zeros(camera.height(), camera.width(), CV_8U);
  for (const MarkingPlan& m : markings) {
    for (const ImageRing& ring : through_lens(camera, m.rings))
      fill(kinds, ring, static_cast<unsigned char>(1 + static_cast<int>(m.kind)));
  }
  return kinds;
}

}  // namespace

TrueLayers see_layers(const Camera& camera, const std::vector<Strip>& strips, const ScenePlan& plan, double far_mm) {
  TrueLayers seen;
  seen.coats = look_at(camera, strips, &Strip::coats, with_dark_backdrop(plan), far_mm);
  seen.losses = look_at(camera, strips, &Strip::losses, with_glowing_backdrop(plan), far_mm);
  seen.kinds = outlines(camera, plan.markings);
  cv::Mat solids(seen.coats.size(), CV_32FC3, cv::Scalar::all(static_cast<double>(kNothing)));
  paint_solids(solids, camera, plan);
  for (int r = 0; r < solids.rows; ++r) {
    for (int c = 0; c < solids.cols; ++c) {
      cv::Vec3f& losses = seen.losses.at<cv::Vec3f>(r, c);
      const bool solid = solids.at<cv::Vec3f>(r, c)[1] != kNothing;
      losses[2] = solid ? 1 : std::min(losses[2], 1.0F);
      if (solid) seen.coats.at<cv::Vec3f>(r, c) = {}, losses[0] = losses[1] = 0;
      if (losses[2] > 0.5F) seen.kinds.at<uchar>(r, c) = 0;
    }
  }
  return seen;
}

std::vector<ImageRing> through_lens(const Camera& camera, const std::vector<GroundRing>& rings) {
  std::vector<ImageRing> out;
  for (const GroundRing& ring : rings) {
    ImageRing seen;
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
      const int parts = std::max(1, static_cast<int>(length(b - a) / 250));
      for (int k = 0; k < parts; ++k) {
        if (const auto p = camera.see(a + (b - a) * (static_cast<double>(k) / parts))) seen.push_back(*p);
      }
    }
    if (seen.size() >= 3) out.push_back(seen);
  }
  return out;
}

}  // namespace lotwear::rendering
