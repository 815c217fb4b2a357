#pragma once
// Pictures whose blur is known: straight and ragged edges drawn in linear light at eight samples a pixel a side,
// blurred, noised, sharpened and encoded as a camera does.

#include <cmath>
#include <cstdint>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "capture/photo.hpp"

namespace lotwear::test {

struct EdgePicture {
  cv::Size size{1200, 900};
  double sigma = 1;      ///< Gaussian, pixels, beside the pixel's own square
  double motion_px = 0;  ///< length of a shake along x, pixels
  double noise = 0;      ///< standard deviation, encoded 0..255
  double sharpen = 0;    ///< unsharp mask on encoded values: amount
  double sharpen_radius = 1.2;
  double texture = 0.15;             ///< standard deviation of the pavement's stones over its mean
  double dark = 0.09, light = 0.62;  ///< linear
  std::uint64_t seed = 1;
};

/// Bars of paint at several angles on a stony ground, CV_8UC3.
inline cv::Mat edge_picture(const EdgePicture& how) {
  cv::RNG random(how.seed);
  cv::Mat stones(how.size, CV_32F);
  random.fill(stones, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(stones, stones, {}, 1.5);
  cv::Scalar mean, spread;
  cv::meanStdDev(stones, mean, spread);
  cv::Mat light = how.dark * (1 + how.texture / spread[0] * stones);
  constexpr int kFine = 8;  // samples a pixel a side
  const int bars = 9;
  for (int bar = 0; bar < bars; ++bar) {
    const double angle = CV_PI * (bar + 0.37) / bars;
    const double c = std::cos(angle), s = std::sin(angle);
    const double x0 = how.size.width * (0.17 + 0.33 * (bar % 3)), y0 = how.size.height * (0.17 + 0.33 * (bar / 3));
    const double half_length = 0.12 * how.size.width, half_width = 0.02 * how.size.width;
    for (int y = 0; y < how.size.height; ++y) {
      for (int x = 0; x < how.size.width; ++x) {
        const double dx = x + 0.5 - x0, dy = y + 0.5 - y0;
        const double u = dx * c + dy * s, v = -dx * s + dy * c;
        if (std::abs(u) > half_length + 1 || std::abs(v) > half_width + 1) continue;
        const bool at_edge = std::abs(u) > half_length - 1 || std::abs(v) > half_width - 1;
        int inside = at_edge ? 0 : kFine * kFine;
        for (int k = 0; at_edge && k < kFine * kFine; ++k) {
          const double fx = (k % kFine + 0.5) / kFine - 0.5, fy = (k / kFine + 0.5) / kFine - 0.5;
          inside += std::abs(u + fx * c + fy * s) <= half_length && std::abs(v - fx * s + fy * c) <= half_width ? 1 : 0;
        }
        const float share = static_cast<float>(inside) / (kFine * kFine);
        float& value = light.at<float>(y, x);
        value = value * (1 - share) + share * static_cast<float>(how.light);
      }
    }
  }
  if (how.sigma > 0) cv::GaussianBlur(light, light, {}, how.sigma);
  if (how.motion_px > 1) cv::blur(light, light, {static_cast<int>(how.motion_px), 1});
  cv::Mat encoded(how.size, CV_32F);
  for (int y = 0; y < how.size.height; ++y) {
    for (int x = 0; x < how.size.width; ++x) {
      encoded.at<float>(y, x) = static_cast<float>(255 * linear_to_srgb(std::max(0.0, double{light.at<float>(y, x)})));
    }
  }
  cv::Mat rgb, noise(how.size, CV_32FC3), out;
  cv::merge(std::vector<cv::Mat>(3, encoded), rgb);
  random.fill(noise, cv::RNG::NORMAL, 0, how.noise);
  rgb += noise;
  if (how.sharpen > 0) {
    cv::Mat soft;
    cv::GaussianBlur(rgb, soft, {}, how.sharpen_radius);
    rgb += how.sharpen * (rgb - soft);
  }
  rgb.convertTo(out, CV_8UC3);
  return out;
}

}  // namespace lotwear::test
