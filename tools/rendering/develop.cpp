#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/shapes_parts.hpp"
#include "rendering/photograph.hpp"
#include "rendering/random.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

void blur(cv::Mat& light, const CameraPlan& camera) {
  if (camera.blur_px > 0.15) {
    const int size = 2 * static_cast<int>(std::ceil(2.5 * camera.blur_px)) + 1;
    cv::GaussianBlur(light, light, {size, size}, camera.blur_px, camera.blur_px, cv::BORDER_REPLICATE);
  }
  if (camera.motion_px > 0.5) {
    const int size = 2 * static_cast<int>(std::ceil(camera.motion_px / 2)) + 1;
    cv::Mat kernel = cv::Mat::zeros(size, size, CV_32F);
    const double angle = camera.motion_deg * shape_parts::kRadiansPerDegree, half = camera.motion_px / 2;
    const double middle = size / 2;
    cv::line(kernel,
             {static_cast<int>(std::lround((middle - half * std::cos(angle)) * 16)),
              static_cast<int>(std::lround((middle - half * std::sin(angle)) * 16))},
             {static_cast<int>(std::lround((middle + half * std::cos(angle)) * 16)),
              static_cast<int>(std::lround((middle + half * std::sin(angle)) * 16))},
             cv::Scalar(1), 1, cv::LINE_8, 4);
    kernel /= cv::sum(kernel)[0];
    cv::filter2D(light, light, -1, kernel, {-1, -1}, 0, cv::BORDER_REPLICATE);
  }
}

/// A phone's exposure: the mean lands near the middle, the brightest parts mostly below the top.
float exposure_of(const cv::Mat& light, double wanted) {
  std::vector<float> sample;
  double sum = 0;
  for (int r = 5; r < light.rows; r += 16) {
    const float* row = light.ptr<float>(r);
    for (int c = 5; c < light.cols; c += 16) {
      const float y = Rgb{row[3 * c], row[3 * c + 1], row[3 * c + 2]}.luminance();
      sample.push_back(y);
      sum += static_cast<double>(y);
    }
  }
  if (sample.empty() || sum <= 0) return 1;
  const double mean = sum / static_cast<double>(sample.size());
  const std::size_t at = sample.size() * 99 / 100;
  std::nth_element(sample.begin(), sample.begin() + static_cast<std::ptrdiff_t>(at), sample.end());
  const double bright = static_cast<double>(sample[at]);
  return static_cast<float>(wanted * std::min(0.21 / mean, 0.95 / bright));
}

/// sRGB encoding (IEC 61966-2-1) followed by the mild S curve phones add.
std::array<std::uint8_t, 4097> tone_table(double contrast) {
  std::array<std::uint8_t, 4097> table{};
  for (std::size_t i = 0; i < table.size(); ++i) {
    const double linear = static_cast<double>(i) / 4096;
    const double encoded = linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
    const double curved = encoded * encoded * (3 - 2 * encoded);
    table[i] = static_cast<std::uint8_t>(std::lround(255 * (encoded + contrast * (curved - encoded))));
  }
  return table;
}

}  // namespace

cv::Mat develop(const cv::Mat& radiance, const CameraPlan& camera, std::uint64_t seed) {
  cv::Mat light = radiance.clone();
  const float exposure = exposure_of(light, camera.exposure);
  const std::vector<float>& gauss = tiles().gauss;
  const float shot = static_cast<float>(camera.shot_noise), read = static_cast<float>(camera.read_noise);
  const float gain[3] = {exposure * static_cast<float>(camera.red_gain), exposure,
                         exposure * static_cast<float>(camera.blue_gain)};
  const float cx = static_cast<float>(light.cols) / 2, cy = static_cast<float>(light.rows) / 2,
              per_r2 = static_cast<float>(camera.vignette) / (cx * cx + cy * cy);
  blur(light, camera);
  for (int r = 0; r < light.rows; ++r) {
    float* row = light.ptr<float>(r);
    Random random = Random(seed).part(static_cast<std::uint64_t>(r));
    const float dy = static_cast<float>(r) - cy;
    std::uint64_t bits = 0;
    for (int c = 0; c < light.cols; ++c) {
      const float dx = static_cast<float>(c) - cx, shade = 1 - per_r2 * (dx * dx + dy * dy);
      bits = random.bits();
      for (int k = 0; k < 3; ++k) {
        const float v = row[3 * c + k] * gain[k] * shade;
        const float noise = gauss[(bits >> (16 * k)) & 65535];
        row[3 * c + k] = std::max(0.0F, v + noise * std::sqrt(shot * shot * v + read * read));
      }
    }
  }
  // demosaicing and noise reduction leave noise that is no longer white
  cv::GaussianBlur(light, light, {3, 3}, 0.45, 0.45, cv::BORDER_REPLICATE);
  cv::Mat soft;
  const float sharpen = static_cast<float>(camera.sharpening);
  if (sharpen > 0) cv::GaussianBlur(light, soft, {5, 5}, 1.0, 1.0, cv::BORDER_REPLICATE);
  const std::array<std::uint8_t, 4097> tone = tone_table(camera.contrast);
  cv::Mat rgb(light.size(), CV_8UC3);
  for (int r = 0; r < light.rows; ++r) {
    const float *a = light.ptr<float>(r), *b = soft.empty() ? a : soft.ptr<float>(r);
    std::uint8_t* out = rgb.ptr<std::uint8_t>(r);
    for (int i = 0; i < 3 * light.cols; ++i) {
      const float v = std::clamp(a[i] + sharpen * (a[i] - b[i]), 0.0F, 1.0F);
      out[i] = tone[static_cast<std::size_t>(v * 4096 + 0.5F)];
    }
  }
  return rgb;
}

}  // namespace lotwear::rendering
