#include "overlap/ground_look.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/features2d.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <optional>

namespace lotwear {
namespace {

constexpr double kPlanMm = GroundLook::kPlanMm;
constexpr double kAroundMm = 1000;  // pavement about the markings that is looked at
constexpr double kReachMm = 3500;   // of the plan to each side of its middle, at most
constexpr double kCoarsestMm = 14;  // a larger photo pixel shows nothing of use
constexpr double kOutlineMm = 25;   // to either side of an outline the same stencil looks the same anywhere
constexpr double kSheetMm = 60;     // its shadow and curled edges
constexpr int kMostSpots = 1500;

struct SmallGrey {
  cv::Mat pixels;
  double sx = 1, sy = 1;  // its pixels a photo pixel
};
/// Made so small that no pixel is much finer than the plan's.
SmallGrey small_grey(const Photo& photo, const Ground& ground) {
  const ImagePoint nearest{photo.rgb.cols / 2.0, photo.rgb.rows - 1.0};
  double finest = kPlanMm;
  if (ground.ground_from_image.depth(nearest) > 0) finest = ground_pixel(ground, nearest).across_mm;
  const double by = std::clamp(0.7 * kPlanMm / std::max(0.05, finest), 1.0, 16.0);
  SmallGrey small;
  cv::Mat rgb;
  const cv::Size size(std::max(1, static_cast<int>(std::lround(photo.rgb.cols / by))),
                      std::max(1, static_cast<int>(std::lround(photo.rgb.rows / by))));
  cv::resize(photo.rgb, rgb, size, 0, 0, cv::INTER_AREA);
  cv::cvtColor(rgb, small.pixels, cv::COLOR_RGB2GRAY);
  small.sx = static_cast<double>(size.width) / photo.rgb.cols;
  small.sy = static_cast<double>(size.height) / photo.rgb.rows;
  return small;
}

bool is_in(const Photo& photo, ImagePoint p) {
  return p.x >= 0 && p.y >= 0 && p.x <= photo.rgb.cols && p.y <= photo.rgb.rows;
}

struct Part {
  GroundPoint origin;
  cv::Size size;
};
/// The ground about what the photo shows of the markings.
std::optional<Part> part_of(const Photo& photo, const Ground& ground, const std::vector<Footprint>& footprints) {
  double left = 1e30, top = 1e30, right = -1e30, bottom = -1e30;
  for (const Footprint& footprint : footprints) {
    for (const GroundRing& ring : footprint.rings) {
      for (const GroundPoint& p : ring) {
        if (!(ground.image_from_ground.depth(p) > 0) || !is_in(photo, ground.image_from_ground(p))) continue;
        left = std::min(left, p.x), right = std::max(right, p.x);
        top = std::min(top, p.y), bottom = std::max(bottom, p.y);
      }
    }
  }
  if (left > right) return std::nullopt;
  const GroundPoint middle{(left + right) / 2, (top + bottom) / 2};
  const double across = std::min(kReachMm, (right - left) / 2 + kAroundMm),
               along = std::min(kReachMm, (bottom - top) / 2 + kAroundMm);
  return Part{middle - GroundPoint{across, along},
              cv::Size(static_cast<int>(2 * across / kPlanMm), static_cast<int>(2 * along / kPlanMm))};
}

/// Where each pixel of the plan lies in the small photo; beyond what is shown finely enough, nowhere.
struct PlanMap {
  cv::Mat x, y, shown;
};
PlanMap map_of(const Photo& photo, const Ground& ground, const SmallGrey& small, const Part& part) {
  PlanMap map{cv::Mat(part.size, CV_32F, cv::Scalar(-1)), cv::Mat(part.size, CV_32F, cv::Scalar(-1)),
              cv::Mat(part.size, CV_8U, cv::Scalar(0))};
  constexpr int kBlock = 12;  // pixels over which a photo pixel is about as large on the ground
  const auto at = [&](double r, double c) { return part.origin + GroundPoint{c + 0.5, r + 0.5} * kPlanMm; };
  for (int top = 0; top < part.size.height; top += kBlock) {
    for (int left = 0; left < part.size.width; left += kBlock) {
      const GroundPoint centre = at(top + kBlock / 2.0, left + kBlock / 2.0);
      if (!(ground.image_from_ground.depth(centre) > 0)) continue;
      const ImagePoint seen = ground.image_from_ground(centre);
      if (!is_in(photo, seen) || ground_pixel(ground, seen).along_mm > kCoarsestMm) continue;
      for (int r = top; r < std::min(part.size.height, top + kBlock); ++r) {
        for (int c = left; c < std::min(part.size.width, left + kBlock); ++c) {
          const ImagePoint p = ground.image_from_ground(at(r, c));
          if (!is_in(photo, p)) continue;
          map.x.at<float>(r, c) = static_cast<float>(p.x * small.sx - 0.5);
          map.y.at<float>(r, c) = static_cast<float>(p.y * small.sy - 0.5);
          map.shown.at<unsigned char>(r, c) = 255;
        }
      }
    }
  }
  return map;
}

std::vector<cv::Point> in_plan(const GroundRing& ring, GroundPoint origin) {
  std::vector<cv::Point> points;
  for (const GroundPoint& p : ring)
    points.emplace_back(static_cast<int>(std::clamp(std::floor((p.x - origin.x) / kPlanMm), -1e4, 1e4)),
                        static_cast<int>(std::clamp(std::floor((p.y - origin.y) / kPlanMm), -1e4, 1e4)));
  return points;
}

void draw_outline(cv::Mat& on, const std::vector<cv::Point>& ring, double to_each_side_mm) {
  cv::polylines(on, ring, true, cv::Scalar(255), static_cast<int>(std::lround(2 * to_each_side_mm / kPlanMm)));
}

cv::Mat unpacked(const std::vector<unsigned char>& bytes) {
  return bytes.empty() ? cv::Mat() : cv::imdecode(bytes, cv::IMREAD_GRAYSCALE);
}

}  // namespace

cv::Mat GroundLook::plan() const { return unpacked(plan_jpeg); }
cv::Mat GroundLook::own() const { return unpacked(own_png); }

GroundLook look_of_plan(const cv::Mat& plan, const cv::Mat& own, const cv::Mat& search, GroundPoint origin) {
  constexpr int kOctaveLayers = 3;
  constexpr double kLeastContrast = 0.01;  // a fourth of the usual: fresh paint and even pavement are dull
  GroundLook look;
  look.origin = origin;
  cv::imencode(".jpg", plan, look.plan_jpeg, {cv::IMWRITE_JPEG_QUALITY, 90});
  cv::imencode(".png", own, look.own_png);
  if (cv::countNonZero(search) == 0) return look;
  std::vector<cv::KeyPoint> spots;
  cv::SIFT::create(kMostSpots, kOctaveLayers, kLeastContrast)->detectAndCompute(plan, search, spots, look.words);
  look.words.convertTo(look.words, CV_8U);
  for (const cv::KeyPoint& spot : spots)
    look.at.push_back(origin + GroundPoint{static_cast<double>(spot.pt.x) + 0.5, static_cast<double>(spot.pt.y) + 0.5} *
                                   kPlanMm);
  return look;
}

GroundLook look_at_ground(const Photo& photo, const Ground& ground, const std::vector<Footprint>& footprints) {
  const std::optional<Part> part = part_of(photo, ground, footprints);
  if (!part) return {};
  const SmallGrey small = small_grey(photo, ground);
  const PlanMap map = map_of(photo, ground, small, *part);
  cv::Mat plan, sheet(part->size, CV_8U, cv::Scalar(0)), outlines = sheet.clone();
  cv::remap(small.pixels, plan, map.x, map.y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  if (!ground.sheet.empty()) {
    const std::vector<cv::Point> ring = in_plan(ground.ground_from_image(ground.sheet), part->origin);
    cv::fillPoly(sheet, std::vector<std::vector<cv::Point>>{ring}, cv::Scalar(255));
    draw_outline(sheet, ring, kSheetMm);
  }
  for (const Footprint& footprint : footprints) {
    for (const GroundRing& ring : footprint.rings)
      draw_outline(outlines, in_plan(ring, part->origin), kOutlineMm);
  }
  // a word reaches some pixels around its spot: none at the border of what is shown
  cv::Mat search = map.shown & ~sheet;
  cv::erode(search, search, cv::Mat::ones(15, 15, CV_8U), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  return look_of_plan(plan, map.shown & ~sheet & ~outlines, search, part->origin);
}

}  // namespace lotwear
