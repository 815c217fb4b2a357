#include "marking/patch.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

cv::Matx33d matx(const std::array<double, 9>& m) { return cv::Matx33d(m.data()); }

/// Patch pixels -> ground millimetres, corner convention.
cv::Matx33d ground_from_patch(const PatchPlace& f) {
  const double c = std::cos(f.angle) * f.mm_per_pixel, s = std::sin(f.angle) * f.mm_per_pixel;
  return {c, -s, f.origin.x, s, c, f.origin.y, 0, 0, 1};
}

/// OpenCV's warps put the first pixel's centre at (0, 0), ours at (0.5, 0.5): shift on both sides.
cv::Matx33d for_warp(const cv::Matx33d& source_from_target) {
  const cv::Matx33d from_centre(1, 0, 0.5, 0, 1, 0.5, 0, 0, 1), to_centre(1, 0, -0.5, 0, 1, -0.5, 0, 0, 1);
  return to_centre * source_from_target * from_centre;
}

/// Most patches lie well within the photo. Seen from in front, what lies between four corners stays between them.
bool surely_inside(const cv::Matx33d& photo_from_patch, const PatchPlace& frame, cv::Size photo) {
  constexpr double kWell = 16;  // photo pixels: two of the coarse mask's
  for (const double x : {0.0, static_cast<double>(frame.width)}) {
    for (const double y : {0.0, static_cast<double>(frame.height)}) {
      const cv::Vec3d p = photo_from_patch * cv::Vec3d(x, y, 1);
      if (!(p[2] > 0) || p[0] < kWell * p[2] || p[1] < kWell * p[2] || p[0] > (photo.width - kWell) * p[2] || p[1] > (photo.height - kWell) * p[2])
        return false;
    }
  }
  return true;
}

}  // namespace

GroundPoint PatchPlace::ground(PatchPoint p) const {
  const double c = std::cos(angle) * mm_per_pixel, s = std::sin(angle) * mm_per_pixel;
  return {origin.x + c * p.x - s * p.y, origin.y + s * p.x + c * p.y};
}

PatchPoint PatchPlace::patch(GroundPoint g) const {
  const double c = std::cos(angle) / mm_per_pixel, s = std::sin(angle) / mm_per_pixel;
  const GroundPoint d = g - origin;
  return {c * d.x + s * d.y, -s * d.x + c * d.y};
}

PatchPlace patch_frame(const Ground& ground, cv::Size photo, GroundPoint centre, double angle, double half_x_mm,
                       double half_y_mm, double max_pixels) {
  PatchPlace place;
  place.angle = angle;
  // the finest photo pixel on the ground within the box: sampled at its corners, middle and edge middles, inside the photo
  double finest = 1e9;
  for (int i = -1; i <= 1; ++i) {
    for (int j = -1; j <= 1; ++j) {
      const double x = i * half_x_mm, y = j * half_y_mm;
      const GroundPoint g{centre.x + std::cos(angle) * x - std::sin(angle) * y,
                          centre.y + std::sin(angle) * x + std::cos(angle) * y};
      if (ground.image_from_ground.depth(g) <= 0) continue;
      ImagePoint p = ground.image_from_ground(g);
      p.x = std::clamp(p.x, 0.0, static_cast<double>(photo.width));
      p.y = std::clamp(p.y, 0.0, static_cast<double>(photo.height));
      // moved into a photo whose horizon slants, it may have come to lie in the sky
      if (ground.ground_from_image.depth(p) > 0) finest = std::min(finest, ground_pixel(ground, p).across_mm);
    }
  }
  const double coarsest = std::sqrt(4 * half_x_mm * half_y_mm / max_pixels);
  place.mm_per_pixel = std::max(finest < 1e9 ? finest : coarsest, coarsest);
  place.width = std::max(8, static_cast<int>(std::lround(2 * half_x_mm / place.mm_per_pixel)));
  place.height = std::max(8, static_cast<int>(std::lround(2 * half_y_mm / place.mm_per_pixel)));
  const double c = std::cos(angle), s = std::sin(angle), hx = place.width * place.mm_per_pixel / 2,
               hy = place.height * place.mm_per_pixel / 2;
  place.origin = {centre.x - c * hx + s * hy, centre.y - s * hx - c * hy};
  return place;
}

cv::Mat map_in_patch(const cv::Mat& map, double photo_per_cell, const Ground& ground, const PatchPlace& frame) {
  const cv::Matx33d cell_from_photo(1 / photo_per_cell, 0, 0, 0, 1 / photo_per_cell, 0, 0, 0, 1);
  const cv::Matx33d warp =
      for_warp(cell_from_photo * matx(ground.image_from_ground.matrix()) * ground_from_patch(frame));
  cv::Mat seen;
  cv::warpPerspective(map, seen, warp, {frame.width, frame.height}, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                      cv::BORDER_REPLICATE);
  return seen;
}

Patch blank_patch(const Photo& photo, const Ground& ground, const PatchPlace& frame) {
  Patch patch;
  patch.frame = frame;
  const cv::Matx33d photo_from_patch = matx(ground.image_from_ground.matrix()) * ground_from_patch(frame);
  if (surely_inside(photo_from_patch, frame, photo.rgb.size())) {
    patch.inside = cv::Mat(frame.height, frame.width, CV_8U, cv::Scalar(255));
    return patch;
  }
  const cv::Mat photo_ones(photo.rgb.rows / 8 + 1, photo.rgb.cols / 8 + 1, CV_8U, cv::Scalar(255));
  cv::warpPerspective(photo_ones, patch.inside, for_warp(cv::Matx33d(1 / 8.0, 0, 0, 0, 1 / 8.0, 0, 0, 0, 1) * photo_from_patch),
                      {frame.width, frame.height}, cv::INTER_NEAREST | cv::WARP_INVERSE_MAP, cv::BORDER_CONSTANT, 0);
  return patch;
}

Patch cut_patch(const Photo& photo, const Ground& ground, const PatchPlace& frame, const PaintContrast& contrast) {
  Patch patch = blank_patch(photo, ground, frame);
  const cv::Size size(frame.width, frame.height);
  const cv::Matx33d photo_from_patch = matx(ground.image_from_ground.matrix()) * ground_from_patch(frame);

  // the photo's part under the patch, reduced first where the patch is coarser than the photo, so that warping cannot alias
  std::vector<cv::Point2d> corners;
  for (const double x : {0.0, static_cast<double>(frame.width)}) {
    for (const double y : {0.0, static_cast<double>(frame.height)}) {
      const cv::Vec3d p = photo_from_patch * cv::Vec3d(x, y, 1);
      corners.emplace_back(p[2] > 1e-9 ? p[0] / p[2] : 0, p[2] > 1e-9 ? p[1] / p[2] : 0);
    }
  }
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (const auto& c : corners) {
    x0 = std::min(x0, c.x), y0 = std::min(y0, c.y), x1 = std::max(x1, c.x), y1 = std::max(y1, c.y);
  }
  const cv::Rect whole({0, 0}, photo.rgb.size());
  cv::Rect part = cv::Rect(cv::Point(static_cast<int>(std::clamp(std::floor(x0) - 4, -1e6, 1e6)),
                                     static_cast<int>(std::clamp(std::floor(y0) - 4, -1e6, 1e6))),
                           cv::Point(static_cast<int>(std::clamp(std::ceil(x1) + 4, -1e6, 1e6)),
                                     static_cast<int>(std::clamp(std::ceil(y1) + 4, -1e6, 1e6)))) &
                  whole;
  if (part.width < 2 || part.height < 2) part = whole;
  // steps of the patch in photo pixels at its middle: the finer direction decides, the photo stays sharp along it
  const auto at = [&](double x, double y) {
    const cv::Vec3d p = photo_from_patch * cv::Vec3d(x, y, 1);
    return cv::Point2d(p[0] / p[2], p[1] / p[2]);
  };
  const double mx = frame.width / 2.0, my = frame.height / 2.0;
  const double step = std::min(cv::norm(at(mx + 1, my) - at(mx, my)), cv::norm(at(mx, my + 1) - at(mx, my)));
  const int reduce = std::clamp(static_cast<int>(std::floor(step)), 1, 16);
  cv::Mat source = photo.rgb(part);
  if (reduce > 1) {
    cv::resize(source, source, {std::max(2, part.width / reduce), std::max(2, part.height / reduce)}, 0, 0, cv::INTER_AREA);
  }
  const double rx = static_cast<double>(source.cols) / part.width, ry = static_cast<double>(source.rows) / part.height;
  const cv::Matx33d source_from_photo(rx, 0, -rx * part.x, 0, ry, -ry * part.y, 0, 0, 1);
  cv::Mat seen;
  cv::warpPerspective(source, seen, for_warp(source_from_photo * photo_from_patch), size,
                      cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);

  double norm = 0;
  std::array<float, 3> direction{};
  for (int c = 0; c < 3; ++c) norm += std::pow(contrast.paint[c] - contrast.pavement[c], 2);
  norm = std::max(norm, 1.0);
  float offset = 0;
  for (int c = 0; c < 3; ++c) {
    direction[c] = static_cast<float>((contrast.paint[c] - contrast.pavement[c]) / norm);
    offset -= direction[c] * static_cast<float>(contrast.pavement[c]);
  }
  const cv::Matx14f project(direction[0], direction[1], direction[2], offset);
  cv::Mat seen32;
  seen.convertTo(seen32, CV_32F);
  cv::transform(seen32, patch.paintness, project);
  return patch;
}

}  // namespace lotwear
