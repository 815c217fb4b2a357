#include "detect/chance.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

/// Value at `x` of the line through the knots, flat beyond its ends.
double between_knots(const std::vector<double>& at, const std::vector<double>& value, double x) {
  std::size_t k = 1;
  while (k < at.size() && at[k] < x) ++k;
  if (x <= at.front() || at.size() < 2) return value.front();
  if (k >= at.size()) return value.back();
  return std::lerp(value[k - 1], value[k], (x - at[k - 1]) / std::max(1e-9, at[k] - at[k - 1]));
}

}  // namespace

Chance chance_of_paint(const PaintMap& map, const FinderDescription& about) {
  constexpr int kNear = 2;
  constexpr float kLeastGround = 0.004F;
  std::vector<float> coat_power, thing_power;
  for (int i = 0; i <= 100; ++i) {
    coat_power.push_back(static_cast<float>(between_knots(about.doubt_coat_near, about.doubt_power, i / 100.0)));
    thing_power.push_back(static_cast<float>(between_knots(about.doubt_not_ground, about.doubt_thing_power, i / 100.0)));
  }
  const auto knot = [](float share) { return static_cast<std::size_t>(std::clamp(static_cast<int>(std::lround(100 * share)), 0, 100)); };
  const cv::Mat shares = map.top_coat + map.older_coat + map.lost_abraded + map.lost_flaked + map.lost_cracked;
  const cv::Mat on_ground = cv::max(shares + map.pavement, kLeastGround);
  cv::Mat near;
  cv::blur((map.top_coat + map.older_coat) / on_ground, near, {2 * kNear + 1, 2 * kNear + 1}, {-1, -1}, cv::BORDER_REPLICATE);
  Chance chance{cv::Mat(shares.size(), CV_32F), cv::Mat(shares.size(), CV_32F)};
  for (int r = 0; r < shares.rows; ++r) {
    for (int c = 0; c < shares.cols; ++c) {
      const float odds = std::clamp(shares.at<float>(r, c) / on_ground.at<float>(r, c), 0.0F, 1.0F);
      const float thing = thing_power[knot(map.not_ground.at<float>(r, c))];
      chance.footprint.at<float>(r, c) = std::pow(odds, coat_power[knot(near.at<float>(r, c))] * thing);
      chance.guess.at<float>(r, c) = std::pow(odds, thing);
    }
  }
  return chance;
}

}  // namespace lotwear
