#pragma once
// A made-up marking: photo, outline and loss map of an arrow-like bar with every cause in it.

#include <algorithm>
#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "capture/photo.hpp"
#include "measure/measure.hpp"

namespace lotwear::made_up {

/// A small generator of its own: the same numbers on every machine.
struct Dice {
  std::uint32_t state = 1;
  std::uint32_t next() {
    state = state * 1664525U + 1013904223U;
    return state >> 8;
  }
  int below(int n) { return static_cast<int>(next() % static_cast<std::uint32_t>(n)); }
};

inline cv::Mat pavement(cv::Size size, std::uint32_t seed, int base = 92) {
  Dice dice{seed};
  cv::Mat coarse(size.height / 3 + 1, size.width / 3 + 1, CV_8U), grey;
  for (int y = 0; y < coarse.rows; ++y) {
    for (int x = 0; x < coarse.cols; ++x)
      coarse.at<unsigned char>(y, x) = static_cast<unsigned char>(base - 26 + dice.below(52));
  }
  cv::resize(coarse, grey, size, 0, 0, cv::INTER_CUBIC);
  cv::Mat rgb;
  cv::cvtColor(grey, rgb, cv::COLOR_GRAY2RGB);
  return rgb;
}

/// Loss map of an upright bar with a head, `size` px; flakes in patches, wear as speckle, a crack, an older coat, some
/// soil.
inline LossMap loss_map(cv::Size size, std::uint32_t seed, double wear, double flakes, bool older, cv::Scalar paint) {
  LossMap map;
  map.plan = pavement(size, seed);
  map.what = cv::Mat::zeros(size, CV_8U);
  map.mm_per_pixel = 4;
  const int w = size.width, h = size.height;
  std::vector<cv::Point> shape = {
      {w / 2, h / 20},          {w * 4 / 5, h / 3}, {w * 3 / 5, h / 3}, {w * 3 / 5, h * 19 / 20},
      {w * 2 / 5, h * 19 / 20}, {w * 2 / 5, h / 3}, {w / 5, h / 3}};
  cv::fillPoly(map.what, std::vector<std::vector<cv::Point>>{shape}, cv::Scalar(static_cast<int>(Spot::paint)));
  const cv::Mat footprint = map.what.clone();
  Dice dice{seed + 77};
  const double cells = static_cast<double>(w) * h;
  for (int i = 0; i < static_cast<int>(cells * wear / 6); ++i) {
    cv::circle(map.what, {dice.below(w), dice.below(h)}, 1 + dice.below(2), static_cast<int>(Spot::abraded),
               cv::FILLED);
  }
  for (int i = 0; i < static_cast<int>(cells * flakes / 300); ++i) {
    const cv::Point at(dice.below(w), dice.below(h));
    std::vector<cv::Point> chip;
    for (int k = 0; k < 7; ++k)
      chip.emplace_back(at + cv::Point(dice.below(36) - 18, dice.below(36) - 18));
    std::vector<cv::Point> hull;
    cv::convexHull(chip, hull);
    const Spot under = older && dice.below(3) == 0 ? Spot::older_coat : Spot::flaked;
    cv::fillConvexPoly(map.what, hull, static_cast<int>(under));
  }
  cv::line(map.what, {w / 4, h * 2 / 5}, {w * 3 / 4, h * 3 / 5}, static_cast<int>(Spot::cracked), 2);
  cv::Mat soil = map.what(cv::Rect(0, h * 4 / 5, w, h / 12));
  soil.setTo(static_cast<int>(Spot::soiled), soil == static_cast<int>(Spot::paint));
  map.what.setTo(0, footprint == 0);
  map.plan.setTo(paint, map.what == static_cast<int>(Spot::paint));
  map.plan.setTo(paint * 0.7, map.what == static_cast<int>(Spot::soiled));
  map.plan.setTo(cv::Scalar(200, 200, 190), map.what == static_cast<int>(Spot::older_coat));
  map.plan.setTo(cv::Scalar(30, 30, 32), map.what == static_cast<int>(Spot::cracked));
  map.what.copyTo(map.fraction);
  map.fraction = cv::Mat(size, CV_32F, cv::Scalar(0));
  map.fraction.setTo(1, (map.what == static_cast<int>(Spot::paint)) | (map.what == static_cast<int>(Spot::soiled)));
  return map;
}

struct Scene {
  Photo photo;
  std::vector<ImageRing> outline;
};

/// The plan view laid into a pavement photo by a plain perspective, with its outline in photo pixels.
inline Scene photo_of(const LossMap& map, cv::Size size, std::uint32_t seed) {
  Scene scene;
  scene.photo.file = "made-up.jpg";
  scene.photo.rgb = pavement(size, seed);
  scene.photo.space = srgb_space();
  const float w = static_cast<float>(size.width), h = static_cast<float>(size.height);
  const float pw = static_cast<float>(map.plan.cols), ph = static_cast<float>(map.plan.rows);
  const std::vector<cv::Point2f> from = {{0, 0}, {pw, 0}, {pw, ph}, {0, ph}};
  const std::vector<cv::Point2f> to = {
      {.40F * w, .30F * h}, {.56F * w, .30F * h}, {.62F * w, .78F * h}, {.36F * w, .78F * h}};
  const cv::Mat map_to_photo = cv::getPerspectiveTransform(from, to);
  cv::warpPerspective(map.plan, scene.photo.rgb, map_to_photo, size, cv::INTER_LINEAR, cv::BORDER_TRANSPARENT);
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(map.what != 0, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
  for (const auto& contour : contours) {
    std::vector<cv::Point2f> flat(contour.begin(), contour.end()), seen;
    for (cv::Point2f& p : flat)
      p += {.5F, .5F};
    cv::perspectiveTransform(flat, seen, map_to_photo);
    ImageRing ring;
    for (const cv::Point2f p : seen)
      ring.push_back({p.x, p.y});
    if (ring.size() >= 3) scene.outline.push_back(ring);
  }
  return scene;
}

}  // namespace lotwear::made_up
