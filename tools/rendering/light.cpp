#include "rendering/light.hpp"

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "marking/shapes_parts.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

/// Averages over about a disc: the picture that the sun throws through a gap between leaves.
void soften(cv::Mat& map, double diameter_cells) {
  const int size = 2 * static_cast<int>(diameter_cells / 2.6) + 1;
  if (size < 3) return;
  cv::blur(map, map, {size, size});
  cv::blur(map, map, {size, size});
}

void cast_foliage(ShadowMap& map, const LightPlan& light) {
  const SoftTile& soft = tiles().soft;
  cv::Mat crown(map.sun.size(), CV_32F);
  const float leaf = static_cast<float>(light.foliage_leaf_mm);
  std::vector<float> sample;
  for (int r = 0; r < crown.rows; ++r) {
    float* row = crown.ptr<float>(r);
    for (int c = 0; c < crown.cols; ++c) {
      const float x = static_cast<float>(map.left_mm + (c + 0.5) * map.cell_mm);
      const float y = static_cast<float>(map.top_mm + (r + 0.5) * map.cell_mm);
      float dense = 0.9F * soft(x / (14 * leaf) + 3, y / (14 * leaf)) +
                    0.8F * soft(x / (3.2F * leaf), y / (3.2F * leaf) + 5) + 0.9F * soft(y / leaf + 8, x / leaf);
      if (light.foliage_reach_mm > 0) {
        const double d = length(GroundPoint{static_cast<double>(x), static_cast<double>(y)} - light.foliage_at);
        dense -= static_cast<float>(2.6 * std::max(0.0, d / light.foliage_reach_mm - 0.75));
      }
      row[c] = dense;
      if ((r % 4 == 0) && (c % 4 == 0)) sample.push_back(dense);
    }
  }
  const std::size_t at = static_cast<std::size_t>((1 - light.foliage) * static_cast<double>(sample.size() - 1));
  std::nth_element(sample.begin(), sample.begin() + static_cast<std::ptrdiff_t>(at), sample.end());
  const float shade_above = sample[at];
  for (int r = 0; r < crown.rows; ++r) {
    float* row = crown.ptr<float>(r);
    for (int c = 0; c < crown.cols; ++c)
      row[c] = 1 - 0.96F * std::clamp(0.5F + 3 * (row[c] - shade_above), 0.0F, 1.0F);
  }
  // each gap throws a picture of the sun: soft discs, not blurred leaves
  const double sigma = light.foliage_penumbra_mm / map.cell_mm / 3;
  const int size = 2 * static_cast<int>(2.2 * sigma + 1) + 1;
  cv::GaussianBlur(crown, crown, {size, size}, sigma, sigma, cv::BORDER_REPLICATE);
  map.sun = map.sun.mul(crown);
}

}  // namespace

float ShadowMap::at(float x, float y) const {
  const float c = static_cast<float>((static_cast<double>(x) - left_mm) / cell_mm) - 0.5F;
  const float r = static_cast<float>((static_cast<double>(y) - top_mm) / cell_mm) - 0.5F;
  const int ci = std::clamp(static_cast<int>(c), 0, sun.cols - 2),
            ri = std::clamp(static_cast<int>(r), 0, sun.rows - 2);
  const float fx = std::clamp(c - static_cast<float>(ci), 0.0F, 1.0F),
              fy = std::clamp(r - static_cast<float>(ri), 0.0F, 1.0F);
  const float *a = sun.ptr<float>(ri) + ci, *b = sun.ptr<float>(ri + 1) + ci;
  const float top = a[0] + fx * (a[1] - a[0]), low = b[0] + fx * (b[1] - b[0]);
  return top + fy * (low - top);
}

ShadowMap cast_shadows(const LightPlan& light, const GroundRing& visible) {
  ShadowMap map;
  double left = 1e18, right = -1e18, top = 1e18, bottom = -1e18;
  for (const GroundPoint& p : visible) {
    left = std::min(left, p.x), right = std::max(right, p.x), top = std::min(top, p.y), bottom = std::max(bottom, p.y);
  }
  constexpr double margin = 120;
  map.cell_mm = std::clamp(std::sqrt((right - left) * (bottom - top) / 3.5e6), 2.0, 12.0);
  map.left_mm = left - margin;
  map.top_mm = top - margin;
  map.sun = cv::Mat::ones(static_cast<int>((bottom - top + 2 * margin) / map.cell_mm) + 2,
                          static_cast<int>((right - left + 2 * margin) / map.cell_mm) + 2, CV_32F);
  for (const Caster& caster : light.casters) {
    cv::Mat open = cv::Mat::ones(map.sun.size(), CV_32F);
    for (const GroundRing& ring : caster.rings) {
      std::vector<cv::Point> points;
      for (const GroundPoint& p : ring) {
        points.emplace_back(static_cast<int>(std::lround((p.x - map.left_mm) / map.cell_mm * 16 - 8)),
                            static_cast<int>(std::lround((p.y - map.top_mm) / map.cell_mm * 16 - 8)));
      }
      cv::fillPoly(open, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(1 - caster.opacity), cv::LINE_8, 4);
    }
    soften(open, caster.penumbra_mm / map.cell_mm);
    map.sun = map.sun.mul(open);
  }
  if (light.foliage > 0) cast_foliage(map, light);
  return map;
}

void light_up(Strip& strip, const LightPlan& light, const ShadowMap& shadows, const CameraPlan& camera) {
  const double height = light.sun_height_deg * shape_parts::kRadiansPerDegree;
  const float lz = static_cast<float>(std::sin(height)),
              lx = static_cast<float>(std::cos(height) * std::cos(light.sun_turn)),
              ly = static_cast<float>(std::cos(height) * std::sin(light.sun_turn));
  const float per_mm = static_cast<float>(0.5 / strip.cell_mm), stand = static_cast<float>(camera.stand_mm);
  const Rgb sun = light.sun_colour * static_cast<float>(light.sun),
            sky = light.sky_colour * static_cast<float>(light.sky);
  const float gx_light = static_cast<float>(light.gradient * std::cos(light.gradient_turn) / 2500),
              gy_light = static_cast<float>(light.gradient * std::sin(light.gradient_turn) / 2500);
  for (int r = 1; r + 1 < strip.rows; ++r) {
    const Span span = strip.spans[static_cast<std::size_t>(r)];
    float* rgb = strip.albedo.ptr<float>(r);
    const float *h = strip.height.ptr<float>(r), *up = strip.height.ptr<float>(r - 1),
                *down = strip.height.ptr<float>(r + 1), *rank = strip.rank.ptr<float>(r);
    const uchar* wet = strip.wet.ptr<uchar>(r);
    const float y = static_cast<float>(strip.y_at(r));
    for (int c = std::max(1, span.from); c < std::min(strip.cols - 1, span.to); ++c) {
      const float x = static_cast<float>(strip.x_at(c)), water = static_cast<float>(wet[c]) / 255;
      const float flat = 1 - 0.75F * water;
      const float gx = flat * std::clamp((h[c + 1] - h[c - 1]) * per_mm, -1.6F, 1.6F);
      const float gy = flat * std::clamp((down[c] - up[c]) * per_mm, -1.6F, 1.6F);
      const float slope = 1 / std::sqrt(1 + gx * gx + gy * gy);
      const float facing = std::clamp((lz - gx * lx - gy * ly) * slope / lz, 0.06F, 2.4F);
      const float lit = shadows.at(x, y), open = 0.72F + 0.28F * (rank[c] + (1 - rank[c]) * (1 - std::abs(flat)));
      const float even = std::max(0.3F, 1 + gx_light * x + gy_light * y);
      const float s = lit * facing * even, k = open * slope * even, dark = 1 - 0.5F * water;
      float mirror = 0;
      if (water > 0) {
        const float cosine = stand / std::sqrt(stand * stand + x * x + y * y), grazing = 1 - cosine;
        mirror = water * (0.02F + 0.98F * grazing * grazing * grazing * grazing * grazing) * 1.6F;
      }
      rgb[3 * c] = rgb[3 * c] * dark * (sun.r * s + sky.r * k) + mirror * sky.r;
      rgb[3 * c + 1] = rgb[3 * c + 1] * dark * (sun.g * s + sky.g * k) + mirror * sky.g;
      rgb[3 * c + 2] = rgb[3 * c + 2] * dark * (sun.b * s + sky.b * k) + mirror * sky.b;
    }
  }
}

}  // namespace lotwear::rendering
