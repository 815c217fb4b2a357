#pragma once
// A pixel or the mean of a block as the search for light compares it: log of the luminance, and the shares of red and
// of blue in the whole. From linear light, R G B, 0..1; what is darker than a sensor tells apart counts as
// `kDarkestLight`. Inline: every pixel of a plan passes here.

#include <algorithm>
#include <cmath>
#include <opencv2/core/matx.hpp>

namespace lotwear {

inline constexpr float kDarkestLight = 1e-4F;

inline float luminance(const cv::Vec3f& v) { return 0.2126F * v[0] + 0.7152F * v[1] + 0.0722F * v[2]; }

struct LightLook {
  float log_light = 0;
  float red = 0, blue = 0;  ///< shares of the whole, which stay calm where a channel is dark
};
inline LightLook look_at(const cv::Vec3f& v) {
  const float sum = std::max(3 * kDarkestLight, v[0] + v[1] + v[2]);
  return {std::log(std::max(kDarkestLight, luminance(v))), v[0] / sum, v[2] / sum};
}

}  // namespace lotwear
