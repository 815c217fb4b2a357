#include "support/painted_photo.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "marking/shapes.hpp"

namespace lotwear::testing {

namespace {

constexpr int kCell = 4;   // photo pixels a map cell, as the finder gives for a picture of this size

bool within(const ImageRing& ring, double x, double y) {
  bool in = false;
  for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
    if ((ring[i].y > y) != (ring[j].y > y) && x < (ring[j].x - ring[i].x) * (y - ring[i].y) / (ring[j].y - ring[i].y) + ring[i].x) in = !in;
  }
  return in;
}

/// Exact coverage of the pixels along the rim by 6 x 6 samples: OpenCV's own polygons are half a pixel too fat.
cv::Mat coverage(cv::Size size, const ImageRing& ring) {
  std::vector<cv::Point> points;
  for (const ImagePoint& p : ring) points.emplace_back(static_cast<int>(std::floor(p.x)), static_cast<int>(std::floor(p.y)));
  cv::Mat mask(size, CV_8U, cv::Scalar(0)), rim(size, CV_8U, cv::Scalar(0));
  cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(255));
  cv::polylines(rim, points, true, cv::Scalar(255), 5);
  std::vector<cv::Point> unsure;
  cv::findNonZero(rim, unsure);
  for (const cv::Point& p : unsure) {
    int hits = 0;
    for (int i = 0; i < 36; ++i) hits += within(ring, p.x + (i % 6 + 0.5) / 6, p.y + (i / 6 + 0.5) / 6) ? 1 : 0;
    mask.at<uchar>(p) = static_cast<uchar>(hits * 255 / 36);
  }
  return mask;
}

void fill(cv::Mat& canvas, const ImageRing& ring, const cv::Scalar& value) {
  const cv::Mat share = coverage(canvas.size(), ring);
  for (int r = 0; r < canvas.rows; ++r) {
    for (int c = 0; c < canvas.cols; ++c) {
      const int a = share.at<uchar>(r, c);
      if (a == 0) continue;
      uchar* v = canvas.ptr<uchar>(r) + c * canvas.channels();
      for (int k = 0; k < canvas.channels(); ++k) v[k] = cv::saturate_cast<uchar>((value[k] * a + v[k] * (255 - a)) / 255);
    }
  }
}

cv::Mat to_cells(const cv::Mat& mask) {
  cv::Mat share;
  mask.convertTo(share, CV_32F, 1.0 / 255);
  cv::resize(share, share, {mask.cols / kCell, mask.rows / kCell}, 0, 0, cv::INTER_AREA);
  cv::GaussianBlur(share, share, {0, 0}, 0.8);
  return share;
}

Ground looking_at_origin(const PaintedScene& scene) {
  const double t = scene.tilt_deg * std::numbers::pi / 180;
  const Ground pose = ground_from_pose({scene.focal_px, true}, scene.size, {0, std::sin(t), std::cos(t)}, scene.height);
  const GroundPoint middle = pose.ground_from_image({scene.size.width / 2.0, scene.size.height / 2.0});
  const GroundFromImage& m = pose.ground_from_image;
  std::array<double, 9> moved = m.matrix();
  for (int c = 0; c < 3; ++c) {
    moved[c] -= middle.x * moved[6 + c];
    moved[3 + c] -= middle.y * moved[6 + c];
  }
  Ground ground = pose;
  ground.ground_from_image = GroundFromImage(moved);
  ground.image_from_ground = ground.ground_from_image.inverse();
  return ground;
}

}  // namespace

GroundRing rectangle(GroundPoint middle, double length_mm, double width_mm, double angle_rad) {
  const GroundPoint u{std::cos(angle_rad), std::sin(angle_rad)}, v{-u.y, u.x};
  const GroundPoint l = u * (length_mm / 2), w = v * (width_mm / 2);
  return {middle - l - w, middle + l - w, middle + l + w, middle - l + w};
}

PaintedPhoto paint_photo(const PaintedScene& scene) {
  PaintedPhoto painted;
  painted.ground = looking_at_origin(scene);
  const auto& view = painted.ground.image_from_ground;
  cv::RNG random(scene.seed);
  cv::Mat rgb(scene.size, CV_8UC3, cv::Scalar(92, 90, 88)), noise(scene.size, CV_32FC3);
  painted.map.kinds.assign(kFinderKinds, cv::Mat());
  cv::Mat all(scene.size, CV_8U, cv::Scalar(0)), whole(scene.size, CV_8U, cv::Scalar(0));
  std::vector<cv::Mat> by_kind(kFinderKinds);
  for (auto& k : by_kind) k = cv::Mat(scene.size, CV_8U, cv::Scalar(0));
  for (const PaintedThing& thing : scene.things) {
    for (const GroundRing& ring : thing.rings) {
      const ImageRing seen = view(ring);
      fill(rgb, seen, cv::Scalar(thing.colour[0], thing.colour[1], thing.colour[2]));
      fill(whole, seen, cv::Scalar(255));
      fill(by_kind[static_cast<std::size_t>(thing.kind)], seen, cv::Scalar(255));
    }
  }
  all = whole.clone();
  for (const GroundRing& ring : scene.gone) {
    fill(rgb, view(ring), cv::Scalar(92, 90, 88));
    fill(all, view(ring), cv::Scalar(0));
  }
  random.fill(noise, cv::RNG::NORMAL, 0, scene.grain);
  cv::GaussianBlur(noise, noise, {0, 0}, 0.7);
  cv::Mat grainy;
  rgb.convertTo(grainy, CV_32FC3);
  cv::GaussianBlur(grainy, grainy, {0, 0}, 0.9);
  grainy += noise;
  grainy.convertTo(rgb, CV_8UC3);

  painted.photo.file = "painted.jpg";
  painted.photo.rgb = rgb;
  painted.photo.focal_px = scene.focal_px;
  PaintMap& map = painted.map;
  map.photo_per_cell = kCell;
  map.photo_per_kind_cell = 4 * kCell;
  map.top_coat = to_cells(all);
  map.footprint = map.top_coat.clone();
  map.guess = map.footprint.clone();
  map.pavement = 1 - map.footprint;
  for (cv::Mat* m : {&map.not_ground, &map.older_coat, &map.lost_abraded, &map.lost_flaked, &map.lost_cracked}) *m = cv::Mat::zeros(map.footprint.size(), CV_32F);
  cv::Mat none = cv::Mat::ones(scene.size.height / (4 * kCell), scene.size.width / (4 * kCell), CV_32F);
  for (int k = 1; k < kFinderKinds; ++k) {
    cv::Mat share;
    by_kind[static_cast<std::size_t>(k)].convertTo(share, CV_32F, 1.0 / 255);
    cv::resize(share, share, none.size(), 0, 0, cv::INTER_AREA);
    map.kinds[static_cast<std::size_t>(k)] = share;
    none -= share;
  }
  map.kinds[0] = none;
  cv::resize(rgb, map.picture, map.footprint.size(), 0, 0, cv::INTER_AREA);
  return painted;
}

double overlap(const std::vector<GroundRing>& a, const std::vector<GroundRing>& b, double cell_mm) {
  double x0 = 1e12, y0 = 1e12, x1 = -1e12, y1 = -1e12;
  for (const auto* rings : {&a, &b}) {
    for (const GroundRing& ring : *rings) {
      for (const GroundPoint& p : ring) x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
    }
  }
  const cv::Size size(static_cast<int>((x1 - x0) / cell_mm) + 2, static_cast<int>((y1 - y0) / cell_mm) + 2);
  const auto drawn = [&](const std::vector<GroundRing>& rings) {
    cv::Mat canvas(size, CV_8U, cv::Scalar(0));
    for (const GroundRing& ring : rings) {
      std::vector<cv::Point> points;
      for (const GroundPoint& p : ring) points.emplace_back(static_cast<int>(std::lround(((p.x - x0) / cell_mm - 0.5) * 16)), static_cast<int>(std::lround(((p.y - y0) / cell_mm - 0.5) * 16)));
      cv::fillPoly(canvas, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(255), cv::LINE_8, 4);
    }
    return canvas;
  };
  const cv::Mat da = drawn(a), db = drawn(b);
  return static_cast<double>(cv::countNonZero(da & db)) / std::max(1, cv::countNonZero(da | db));
}

std::vector<Footprint> found_in(PaintedPhoto painted) {
  painted.ground.source = "scale-sheet";
  return find_markings(painted.photo, painted.map, painted.ground, shapes_and_words(LOTWEAR_MODELS)).footprints;
}

std::vector<Footprint> found_in(const PaintedScene& scene) { return found_in(paint_photo(scene)); }

}  // namespace lotwear::testing
