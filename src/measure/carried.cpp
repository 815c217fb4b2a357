#include "measure/carried.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {

cv::Mat carried(const cv::Mat& values, const cv::Mat& weight, double mm, double scale_mm) {
  const int channels = values.channels();
  cv::Mat sum = cv::Mat::zeros(values.size(), CV_32FC(channels)), norm = cv::Mat::zeros(values.size(), CV_32F);
  std::vector<cv::Mat> planes(static_cast<std::size_t>(channels)), sums(static_cast<std::size_t>(channels));
  cv::split(values, planes);
  for (std::size_t k = 0; k < planes.size(); ++k) {
    planes[k] = planes[k].mul(weight);
    sums[k] = cv::Mat::zeros(values.size(), CV_32F);
  }
  // Each coarser blur speaks a hundred times softer: it decides only where the finer ones have nothing to say.
  double loud = 1;
  for (double sigma = scale_mm / mm;; sigma *= 3, loud *= 0.01) {
    const bool last = sigma * 3 > std::max(values.cols, values.rows) || loud < 1e-7;
    // Blurs wider than a few cells run on a shrunken grid: same result to a percent, cost independent of the width.
    const double shrink = std::max(1.0, sigma / 3);
    const cv::Size small(std::max(1, static_cast<int>(std::lround(values.cols / shrink))),
                         std::max(1, static_cast<int>(std::lround(values.rows / shrink))));
    const auto blurred = [&](const cv::Mat& m) {
      cv::Mat s, b;
      cv::resize(m, s, small, 0, 0, cv::INTER_AREA);
      cv::GaussianBlur(s, s, {}, std::max(0.5, sigma / shrink), std::max(0.5, sigma / shrink), cv::BORDER_CONSTANT);
      cv::resize(s, b, m.size(), 0, 0, cv::INTER_LINEAR);
      return b;
    };
    norm += loud * blurred(weight);
    for (std::size_t k = 0; k < planes.size(); ++k)
      sums[k] += loud * blurred(planes[k]);
    if (last) break;
  }
  cv::max(norm, 1e-20, norm);
  for (cv::Mat& s : sums)
    s /= norm;
  cv::merge(sums, sum);
  return sum;
}

}  // namespace lotwear
