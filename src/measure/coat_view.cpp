#include "measure/coat_view.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {
namespace {

// A pixel, unless the photo or the marking's size asks for coarser ones. At 3.75 mm the reader takes half the time, but
// in deep shade and soil it then called for four grinds more that were not due (180 rendered scenes).
constexpr double kMm = 3.0;
constexpr double kMostPixels = 2.5e5;  // time stays bounded however large the marking is
constexpr double kAroundMm = 40;       // of the pavement: what goes on over the outline is light and no coat
constexpr double kInsideMm = 20;       // as far as the distance to the outline is told
constexpr std::size_t kFewest = 200;   // pixels of the core
constexpr double kBrightest = 0.9;     // quantile of the core's brightness: paint, where a tenth of it is left
constexpr float kDarkest = -3.5F, kLightest = 0.7F;

/// Mean light of the brightest paint, R G B.
cv::Vec3f brightest_paint(const cv::Mat& light, const cv::Mat& core) {
  std::vector<std::pair<float, cv::Vec3f>> of;
  for (int r = 0; r < light.rows; ++r) {
    for (int c = 0; c < light.cols; ++c) {
      if (core.at<unsigned char>(r, c) == 0) continue;
      const cv::Vec3f l = light.at<cv::Vec3f>(r, c);
      of.emplace_back(l[0] + l[1] + l[2], l);
    }
  }
  if (of.size() < kFewest) return {0, 0, 0};
  const auto at = of.begin() + static_cast<std::ptrdiff_t>(kBrightest * static_cast<double>(of.size() - 1));
  std::nth_element(of.begin(), at, of.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  const float level = at->first;
  cv::Vec3d sum(0, 0, 0);
  double n = 0;
  for (const auto& [bright, l] : of) {
    if (bright > 0.85F * level && bright < 1.1F * level) sum += cv::Vec3d(l), n += 1;
  }
  return cv::Vec3f(sum * (1 / std::max(1.0, n)));
}

}  // namespace

CoatView coat_view(const PlanView& plan, double core_mm) {
  CoatView view;
  const cv::Rect ours = cv::boundingRect(plan.ours);
  if (ours.empty()) return view;
  const int around = static_cast<int>(std::ceil(kAroundMm / plan.mm_per_pixel));
  view.at = cv::Rect(ours.x - around, ours.y - around, ours.width + 2 * around, ours.height + 2 * around) &
            cv::Rect(0, 0, plan.light.cols, plan.light.rows);
  const double wide = view.at.width * plan.mm_per_pixel, high = view.at.height * plan.mm_per_pixel;
  view.mm_per_pixel = std::max({kMm, plan.mm_per_pixel, std::sqrt(wide * high / kMostPixels)});
  const cv::Size size(std::max(8, static_cast<int>(std::lround(wide / view.mm_per_pixel))),
                      std::max(8, static_cast<int>(std::lround(high / view.mm_per_pixel))));
  cv::Mat light, inside, seen;
  cv::resize(plan.light(view.at), light, size, 0, 0, cv::INTER_AREA);
  cv::resize(plan.inside_mm(view.at), inside, size, 0, 0, cv::INTER_AREA);
  cv::resize(plan.ours(view.at), seen, size, 0, 0, cv::INTER_NEAREST);
  const cv::Mat core = (seen != 0) & (inside > core_mm);
  const cv::Vec3f paint = brightest_paint(light, core);
  if (paint[0] <= 0 || paint[1] <= 0 || paint[2] <= 0) return view;
  view.input.create(size, CV_32FC4);
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const cv::Vec3f l = light.at<cv::Vec3f>(r, c);
      const float depth = inside.at<float>(r, c) / static_cast<float>(kInsideMm);
      cv::Vec4f& out = view.input.at<cv::Vec4f>(r, c);
      for (int k = 0; k < 3; ++k)
        out[k] = std::clamp(std::log(l[k] / paint[k] + 0.02F), kDarkest, kLightest);
      out[3] = std::clamp(seen.at<unsigned char>(r, c) != 0 ? depth : std::min(depth, -0.05F), -1.0F, 1.0F);
    }
  }
  return view;
}

}  // namespace lotwear
