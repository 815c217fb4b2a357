#include "measure/plan_beside.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <vector>

namespace lotwear {

void clean_beside(PlanView& plan) {
  const int side = std::max(2, static_cast<int>(std::lround(6 / plan.mm_per_pixel)));
  const int rows = (plan.light.rows + side - 1) / side, cols = (plan.light.cols + side - 1) / side;
  cv::Mat sum = cv::Mat::zeros(rows, cols, CV_32FC3), count = cv::Mat::zeros(rows, cols, CV_32F);
  std::vector<double> red_inside, blue_inside, light_inside;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      const cv::Vec3f v = plan.light.at<cv::Vec3f>(r, c);
      if (plan.ours.at<unsigned char>(r, c) != 0 && (r + c) % 4 == 0) {
        const float all = std::max(1e-6F, v[0] + v[1] + v[2]);
        red_inside.push_back(static_cast<double>(v[0] / all)), blue_inside.push_back(static_cast<double>(v[2] / all));
        light_inside.push_back(static_cast<double>(all));
      }
      if (plan.beside.at<unsigned char>(r, c) == 0) continue;
      sum.at<cv::Vec3f>(r / side, c / side) += v;
      count.at<float>(r / side, c / side) += 1;
    }
  }
  const auto chroma = [](const cv::Vec3d& v) {
    const double all = std::max(1e-9, v[0] + v[1] + v[2]);
    return cv::Vec2d(v[0] / all, v[2] / all);
  };
  const auto whole = [](const cv::Vec3d& v) { return v[0] + v[1] + v[2]; };
  std::vector<double> red, blue, light;
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      if (count.at<float>(r, c) <= 0) continue;
      const cv::Vec3d block(sum.at<cv::Vec3f>(r, c));
      const cv::Vec2d k = chroma(block);
      red.push_back(k[0]), blue.push_back(k[1]);
      light.push_back(whole(block) / static_cast<double>(count.at<float>(r, c)));
    }
  }
  if (red.size() < 24 || red_inside.empty()) return;
  const auto median = [](std::vector<double>& v) {
    const auto mid = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), mid, v.end());
    return *mid;
  };
  const cv::Vec2d usual(median(red), median(blue)), toward = cv::Vec2d(median(red_inside), median(blue_inside)) - usual;
  const double usual_light = median(light), light_of_paint = median(light_inside);
  // Shade is bluer than sun by up to 0.13; paint that is to be told from pavement by colour alone must differ by more,
  // by colour and brightness together by less.
  const double apart = cv::norm(toward);
  const bool by_colour = apart > 0.14, by_both = apart > 0.05;
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      if (count.at<float>(r, c) <= 0) continue;
      const cv::Vec2d off = chroma(cv::Vec3d(sum.at<cv::Vec3f>(r, c))) - usual;
      const double green = -off[0] - off[1];
      const double brighter =
          (whole(cv::Vec3d(sum.at<cv::Vec3f>(r, c))) / static_cast<double>(count.at<float>(r, c)) - usual_light) /
          (light_of_paint - usual_light);
      const bool painted =
          off.dot(toward) > 0.5 * toward.dot(toward) && (by_colour || (by_both && brighter > 0.5 && brighter < 2));
      if (!painted && green < 0.06) continue;
      plan.beside(cv::Rect(c * side, r * side, std::min(side, plan.beside.cols - c * side),
                           std::min(side, plan.beside.rows - r * side))) = 0;
    }
  }
}

}  // namespace lotwear
