#pragma once
// Pixels over the bare pavement that would lie there (R G B, linear light, 1: bare), and the line in that colour space
// along which a share of paint is read: bare pavement lies at 0, the marking's paint at 1. What lies between, below and
// above is left as it is; noise averages out.

#include <cstddef>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "measure/pavement_look.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

inline constexpr std::size_t kAxisBins = 400;  ///< of histograms along the axis

struct PaintSamples {
  std::vector<cv::Vec3d> inside, beside;  ///< pixel over bare pavement
  cv::Vec3d clipped{0, 0, 0};             ///< share of the inside pixels with that channel at the top of the scale
  std::vector<double> trust;              ///< of the inside ones: how sure the light is there
  cv::Matx33d bare_spread = cv::Matx33d::zeros();  ///< of the ones beside, about bare pavement
  std::vector<unsigned char> at_top;  ///< of the inside ones: two channels are at the top of the scale; with one, the
                                      ///< others tell
};

/// Pixels from `core_mm` to `deepest_mm` inside the outline, and beside it.
/// `seen`, `bare`: CV_32FC3 of the plan's size, the light there and that of bare pavement; `trust`: CV_32F, or empty:
/// all alike.
PaintSamples paint_samples(const PlanView& plan, const cv::Mat& seen, const cv::Mat& bare, double core_mm,
                           double deepest_mm, const cv::Mat& trust);

struct PaintAxis {
  cv::Vec3d weight;
  double at(const cv::Vec3d& q) const {
    return weight[0] * (q[0] - 1) + weight[1] * (q[1] - 1) + weight[2] * (q[2] - 1);
  }
};

/// Fisher's direction from bare to `paint`, scaled so that `paint` lies at 1. Bare pavement's covariance is widened by
/// what is not known of the paint's own colour and of the light's tint.
PaintAxis axis_to(const cv::Vec3d& paint, const PaintSamples& samples, const PavementLook& look);

/// CV_32F, where every pixel of the plan lies on the axis; cut off far beyond paint and bare, at -2 and 3.
cv::Mat coordinate(const PlanView& plan, const cv::Mat& bare, const PaintAxis& axis);

}  // namespace lotwear
