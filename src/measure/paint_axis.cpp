#include "measure/paint_axis.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <opencv2/core.hpp>  // the inverse of a Matx is not in mat.hpp

#include "measure/plan_core.hpp"

namespace lotwear {

PaintSamples paint_samples(const PlanView& plan, const cv::Mat& seen, const cv::Mat& bare, double core_mm,
                           double deepest_mm, const cv::Mat& trust) {
  PaintSamples samples;
  const int stride = plan.sample_step;
  for (int r = 0; r < plan.light.rows; r += stride) {
    for (int c = 0; c < plan.light.cols; c += stride) {
      const bool in = in_core(plan, r, c, core_mm) && !deep(plan, r, c, deepest_mm);
      if (!in && plan.beside.at<unsigned char>(r, c) == 0) continue;
      const cv::Vec3f light = seen.at<cv::Vec3f>(r, c), b = bare.at<cv::Vec3f>(r, c);
      cv::Vec3d q;
      for (int k = 0; k < 3; ++k)
        q[k] = static_cast<double>(light[k] / std::max(1e-4F, b[k]));
      if (in) {
        samples.inside.push_back(q);
        for (int k = 0; k < 3; ++k)
          samples.clipped[k] += (plan.clipped.at<unsigned char>(r, c) >> k) & 1;
        samples.at_top.push_back(std::popcount(plan.clipped.at<unsigned char>(r, c)) >= 2 ? 1 : 0);
        samples.trust.push_back(trust.empty() ? 1.0 : static_cast<double>(trust.at<float>(r, c)));
      } else {
        samples.beside.push_back(q);
      }
    }
  }
  samples.clipped *= 1 / std::max(1.0, static_cast<double>(samples.inside.size()));
  for (const cv::Vec3d& q : samples.beside) {
    const cv::Vec3d d(std::clamp(q[0] - 1.0, -1.0, 2.0), std::clamp(q[1] - 1.0, -1.0, 2.0),
                      std::clamp(q[2] - 1.0, -1.0, 2.0));
    samples.bare_spread += d * d.t();
  }
  samples.bare_spread *= 1 / std::max(1.0, static_cast<double>(samples.beside.size()));
  return samples;
}

PaintAxis axis_to(const cv::Vec3d& paint, const PaintSamples& samples, const PavementLook& look) {
  cv::Matx33d spread = samples.bare_spread;
  const cv::Vec3d away = paint - cv::Vec3d(1, 1, 1);
  const double reach = cv::norm(away);
  spread += cv::Matx33d::eye() * (0.0004 + 0.02 * reach * reach);
  // A clipped channel reads part-covered pixels as whole paint: channels that are not clipped lead.
  const double least = std::min({samples.clipped[0], samples.clipped[1], samples.clipped[2]});
  for (int k = 0; k < 3; ++k)
    spread(k, k) += 4 * (samples.clipped[k] - least) * reach * reach;
  if (look.broken) {
    cv::Vec3d tint;
    double mean = 0;
    for (int k = 0; k < 3; ++k)
      mean += tint[k] = look.sun[static_cast<std::size_t>(k)] / look.shade[static_cast<std::size_t>(k)];
    tint = tint * (3 / mean) - cv::Vec3d(1, 1, 1);
    const cv::Vec3d shift(tint[0] * paint[0], tint[1] * paint[1], tint[2] * paint[2]);
    spread += shift * shift.t() * 0.05;
  }
  cv::Vec3d w = spread.inv(cv::DECOMP_CHOLESKY) * away;
  const double scale = w.dot(away);
  PaintAxis axis;
  axis.weight = std::abs(scale) > 1e-9 ? w * (1 / scale) : cv::Vec3d(1, 1, 1) / 3;
  return axis;
}

cv::Mat coordinate(const PlanView& plan, const cv::Mat& bare, const PaintAxis& axis) {
  cv::Mat x(plan.light.size(), CV_32F);
  for (int r = 0; r < x.rows; ++r) {
    const auto* light = plan.light.ptr<cv::Vec3f>(r);
    const auto* b = bare.ptr<cv::Vec3f>(r);
    float* out = x.ptr<float>(r);
    for (int c = 0; c < x.cols; ++c) {
      double v = 0;
      for (int k = 0; k < 3; ++k)
        v += axis.weight[k] * static_cast<double>(light[c][k] / std::max(1e-4F, b[c][k]) - 1);
      out[c] = static_cast<float>(std::clamp(v, -2.0, 3.0));
    }
  }
  return x;
}

}  // namespace lotwear
