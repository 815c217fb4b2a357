#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/trouble.hpp"
#include "views/fit.hpp"
#include "views/lettering.hpp"
#include "views/marking_pictures.hpp"

namespace lotwear {

namespace {

constexpr int kLongSide = 1000;      // px at most; shows a flake in a 1.6 m arrow (2 mm a pixel), 60 to 250 kB as JPEG
constexpr int kUsualLongSide = 500;  // px; a small part is enlarged to this
constexpr int kLeastCrop = 160;      // photo px; a marking far away still gets surroundings
constexpr double kFurthest = 1e5;    // px; where a ring runs off towards the horizon

/// About 1.6 times the outline's box, and never a sliver: a stall line's crop is half as wide as long.
cv::Rect surroundings(const std::vector<ImageRing>& outline, cv::Size photo) {
  double left = photo.width, right = 0, top = photo.height, bottom = 0;
  for (const ImageRing& ring : outline) {
    for (const ImagePoint p : ring) {
      if (!std::isfinite(p.x) || !std::isfinite(p.y)) continue;
      const double x = std::clamp(p.x, 0.0, 1.0 * photo.width), y = std::clamp(p.y, 0.0, 1.0 * photo.height);
      left = std::min(left, x), right = std::max(right, x), top = std::min(top, y), bottom = std::max(bottom, y);
    }
  }
  if (left > right || top > bottom) return {{0, 0}, photo};
  const double width = right - left, height = bottom - top, longer = std::max(width, height);
  const auto span = [&](double from, double to, double own, int limit) {
    const double wanted = std::max({1.6 * own, 0.8 * longer, 1.0 * kLeastCrop});
    const double middle = (from + to) / 2;
    const int a = std::clamp(static_cast<int>(middle - wanted / 2), 0, limit - 1);
    const int b = std::clamp(static_cast<int>(std::ceil(middle + wanted / 2)), a + 1, limit);
    return std::pair{a, b - a};
  };
  const auto [x, w] = span(left, right, width, photo.width);
  const auto [y, h] = span(top, bottom, height, photo.height);
  return {x, y, w, h};
}

bool is_srgb(const ColourSpace& space) {
  return space.to_srgb == std::array<float, 9>{1, 0, 0, 0, 1, 0, 0, 0, 1} && space.name == "sRGB";
}

/// The file's own colours as sRGB ones, in place: a viewer knows nothing of the photo's profile.
void become_srgb(cv::Mat& rgb, const ColourSpace& space) {
  constexpr int steps = 4096;  // finer than 8-bit sRGB needs above the darkest three values
  std::array<unsigned char, steps + 1> encoded{};
  for (int i = 0; i <= steps; ++i) {
    encoded[static_cast<std::size_t>(i)] =
        static_cast<unsigned char>(std::lround(255 * linear_to_srgb(i / static_cast<double>(steps))));
  }
  const auto encode = [&](float v) {
    return encoded[static_cast<std::size_t>(std::clamp(v, 0.0F, 1.0F) * steps + 0.5F)];
  };
  const auto& m = space.to_srgb;
  for (int y = 0; y < rgb.rows; ++y) {
    auto* row = rgb.ptr<cv::Vec3b>(y);
    for (int x = 0; x < rgb.cols; ++x) {
      const float r = space.linear[row[x][0]], g = space.linear[row[x][1]], b = space.linear[row[x][2]];
      row[x] = {encode(m[0] * r + m[1] * g + m[2] * b), encode(m[3] * r + m[4] * g + m[5] * b),
                encode(m[6] * r + m[7] * g + m[8] * b)};
    }
  }
}

void draw_outline(cv::Mat& rgb, const std::vector<ImageRing>& outline, const cv::Rect& part, double scale) {
  constexpr int shift = 4;  // sixteenths of a pixel
  std::vector<std::vector<cv::Point>> rings;
  for (const ImageRing& ring : outline) {
    std::vector<cv::Point> points;
    for (const ImagePoint p : ring) {
      if (!std::isfinite(p.x) || !std::isfinite(p.y)) continue;
      const auto on = [&](double v, int start) {  // OpenCV's lines put a pixel's centre at a whole number
        const double at = std::clamp((v - start) * scale - 0.5, -kFurthest, kFurthest);
        return static_cast<int>(std::lround(at * (1 << shift)));
      };
      points.emplace_back(on(p.x, part.x), on(p.y, part.y));
    }
    if (points.size() >= 2) rings.push_back(std::move(points));
  }
  cv::polylines(rgb, rings, true, {16, 18, 20}, 3, cv::LINE_AA, shift);
  cv::polylines(rgb, rings, true, {255, 255, 255}, 1, cv::LINE_AA, shift);
}

/// Words on a dark tag, above the marking's box or, without room there, inside the picture.
void draw_tag(cv::Mat& rgb, const std::string& tag_words, cv::Point at) {
  const cv::Mat words = lettering(tag_words, 15);
  const cv::Size tag(words.cols + 12, words.rows + 6);
  if (tag.width > rgb.cols || tag.height > rgb.rows) return;
  const cv::Point corner(std::clamp(at.x, 0, rgb.cols - tag.width),
                         std::clamp(at.y - tag.height - 4, 0, rgb.rows - tag.height));
  rgb(cv::Rect(corner, tag)).setTo(cv::Scalar(16, 18, 20));
  lay_ink(rgb, words, corner + cv::Point(6, 3), {255, 255, 255});
}

}  // namespace

cv::Mat photo_picture(const Photo& photo, const std::vector<ImageRing>& outline, const std::string& tag) {
  require(photo.rgb.type() == CV_8UC3 && !photo.rgb.empty(), "a photo holds RGB pixels");
  cv::Rect part = surroundings(outline, photo.rgb.size());
  const auto [from, to, scale] = fit(part.size(), kLongSide, kUsualLongSide);
  part = {part.tl(), from};
  cv::Mat picture;
  cv::resize(photo.rgb(part), picture, to, 0, 0, scale < 1 ? cv::INTER_AREA : cv::INTER_CUBIC);
  if (!is_srgb(photo.space)) become_srgb(picture, photo.space);
  draw_outline(picture, outline, part, scale);
  if (tag.empty()) return picture;

  double left = photo.rgb.cols, top = photo.rgb.rows;
  for (const ImageRing& ring : outline) {
    for (const ImagePoint p : ring) {
      if (std::isfinite(p.x) && std::isfinite(p.y)) left = std::min(left, p.x), top = std::min(top, p.y);
    }
  }
  const auto on = [times = scale](double v, int start) {
    return static_cast<int>(std::clamp((v - start) * times, -kFurthest, kFurthest));
  };
  draw_tag(picture, tag, {on(left, part.x), on(top, part.y)});
  return picture;
}

}  // namespace lotwear
