#include <cmath>
#include <opencv2/core.hpp>

#include "capture/photo.hpp"

namespace lotwear {

double srgb_to_linear(double encoded) {
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

double linear_to_srgb(double linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
}

ColourSpace srgb_space() {
  static const ColourSpace space = [] {
    ColourSpace made;
    for (std::size_t value = 0; value < made.linear.size(); ++value) {
      made.linear[value] = static_cast<float>(srgb_to_linear(static_cast<double>(value) / 255));
    }
    return made;
  }();
  return space;
}

cv::Mat linear_rgb(const Photo& photo, const cv::Rect& part) {
  require(photo.rgb.type() == CV_8UC3, "a photo holds 8-bit RGB");
  require(part.area() > 0 && (part & cv::Rect({}, photo.rgb.size())) == part, "the part lies inside the photo");
  const std::array<float, 256>& linear = photo.space.linear;
  const std::array<float, 9>& m = photo.space.to_srgb;
  const bool same_primaries = m == std::array<float, 9>{1, 0, 0, 0, 1, 0, 0, 0, 1};
  cv::Mat out(part.size(), CV_32FC3);
  for (int y = 0; y < part.height; ++y) {
    const std::uint8_t* from = photo.rgb.ptr<std::uint8_t>(part.y + y) + std::ptrdiff_t{3} * part.x;
    float* to = out.ptr<float>(y);
    for (int x = 0; x < part.width; ++x, from += 3, to += 3) {
      const float r = linear[from[0]], g = linear[from[1]], b = linear[from[2]];
      if (same_primaries) {
        to[0] = r;
        to[1] = g;
        to[2] = b;
        continue;
      }
      to[0] = m[0] * r + m[1] * g + m[2] * b;
      to[1] = m[3] * r + m[4] * g + m[5] * b;
      to[2] = m[6] * r + m[7] * g + m[8] * b;
    }
  }
  return out;
}

}  // namespace lotwear
