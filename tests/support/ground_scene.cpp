#include "support/ground_scene.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

namespace lotwear::test {

namespace {

constexpr double kPavement = 0.12, kPaint = 0.65, kPaper = 0.85, kInk = 0.04, kShade = 0.1;
constexpr int kLooks = 4;

double wrapped_noise(std::uint32_t x, std::uint32_t y, std::uint32_t seed) {
  std::uint32_t h = x * 0x9E3779B1U ^ y * 0x85EBCA77U ^ seed * 0xC2B2AE3DU;
  h = (h ^ (h >> 15)) * 0x2C1B3C6DU;
  h = (h ^ (h >> 12)) * 0x297A2D39U;
  return (h ^ (h >> 15)) / 4294967296.0 * 2 - 1;
}

/// The scene's reflectance at ground points.
class Surface {
 public:
  explicit Surface(const GroundScene& scene) : scene_(scene) {
    if (!scene.sheet) return;
    layout_ = sheet_layout(scene.sheet->paper);
    for (const Fiducial& f : layout_.fiducials)
      cells_.push_back(fiducial_cells(f.id));
  }

  double light(GroundPoint g) const {
    double value = sheet(g);
    if (value < 0) value = painted(g) ? kPaint : kPavement * (1 + scene_.texture * grain(g));
    for (const GroundRing& ring : scene_.shadow) {
      if (inside(ring, g)) return value * kShade;
    }
    return value;
  }
  bool painted(GroundPoint g) const {
    return std::any_of(scene_.paint.begin(), scene_.paint.end(), [&](const GroundRing& r) { return inside(r, g); });
  }

 private:
  static bool inside(const GroundRing& ring, GroundPoint g) {
    bool in = false;
    for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
      if ((ring[i].y > g.y) != (ring[j].y > g.y) &&
          g.x < (ring[j].x - ring[i].x) * (g.y - ring[i].y) / (ring[j].y - ring[i].y) + ring[i].x) {
        in = !in;
      }
    }
    return in;
  }
  double grain(GroundPoint g) const {  // stones of 8 mm
    const auto x = static_cast<std::uint32_t>(std::floor(g.x / 8) + 1e6),
               y = static_cast<std::uint32_t>(std::floor(g.y / 8) + 1e6);
    return std::sqrt(3.0) * wrapped_noise(x, y, scene_.seed);
  }
  /// Paper or ink; negative beside the sheet.
  double sheet(GroundPoint g) const {
    if (!scene_.sheet) return -1;
    const LaidSheet& laid = *scene_.sheet;
    const double c = std::cos(laid.turn), s = std::sin(laid.turn);
    const GroundPoint d = g - laid.corner;
    double x = c * d.x + s * d.y, y = -s * d.x + c * d.y;
    if (laid.curl_mm > 0 && x > 0) {
      // The paper bends up along x; seen along the camera's ray it appears farther from the camera's foot.
      const double z = laid.curl_mm * (x / layout_.width_mm) * (x / layout_.width_mm);
      const GroundPoint seen = g * (1 - z / std::exp(scene_.view.log_height));
      const GroundPoint e = seen - laid.corner;
      x = c * e.x + s * e.y;
      y = -s * e.x + c * e.y;
    }
    if (x < 0 || y < 0 || x >= layout_.width_mm || y >= layout_.height_mm) return -1;
    for (std::size_t i = 0; i < cells_.size(); ++i) {
      const Fiducial& f = layout_.fiducials[i];
      const double u = (x - f.x_mm) / f.side_mm, v = (y - f.y_mm) / f.side_mm;
      if (u < 0 || v < 0 || u >= 1 || v >= 1) continue;
      return cells_[i].at<unsigned char>(static_cast<int>(v * kFiducialCells), static_cast<int>(u * kFiducialCells)) !=
                     0
                 ? kPaper
                 : kInk;
    }
    return kPaper;
  }

  const GroundScene& scene_;
  SheetLayout layout_;
  std::vector<cv::Mat> cells_;
};

/// Where a pixel of the bent picture would lie in a straight one.
ImagePoint straightened(const GroundScene& scene, ImagePoint p) {
  const double f = std::exp(scene.view.log_focal), cx = scene.size.width / 2.0, cy = scene.size.height / 2.0;
  const double x = (p.x - cx) / f, y = (p.y - cy) / f, r2 = x * x + y * y;
  const double by = 1 - scene.bend * r2;
  return {cx + f * x * by, cy + f * y * by};
}

}  // namespace

Photo photograph(const GroundScene& scene) {
  const Ground ground = ground_of(scene.view, scene.size);
  const Surface surface(scene);
  cv::Mat light(scene.size, CV_32F, cv::Scalar(0.5));
  cv::parallel_for_(cv::Range(0, light.rows), [&](const cv::Range& rows) {
    for (int row = rows.start; row < rows.end; ++row) {
      for (int column = 0; column < light.cols; ++column) {
        double sum = 0;
        int looks = 0;
        for (int i = 0; i < kLooks; ++i) {
          for (int j = 0; j < kLooks; ++j) {
            const ImagePoint p = straightened(scene, {column + (j + 0.5) / kLooks, row + (i + 0.5) / kLooks});
            if (ground.ground_from_image.depth(p) <= 0.02) continue;
            sum += surface.light(ground.ground_from_image(p));
            ++looks;
          }
        }
        if (looks > 0) light.at<float>(row, column) = static_cast<float>(sum / looks * scene.exposure);
      }
    }
  });
  if (scene.blur_px > 0) cv::GaussianBlur(light, light, {}, scene.blur_px);

  Photo photo;
  photo.path = photo.file = "scene.jpg";
  photo.space = srgb_space();
  photo.rgb = cv::Mat(scene.size, CV_8UC3);
  if (scene.focal_in_file) photo.focal_px = std::exp(scene.view.log_focal);
  cv::Mat noise(scene.size, CV_32F);
  cv::RNG random(scene.seed);
  random.fill(noise, cv::RNG::NORMAL, 0, scene.noise);
  for (int row = 0; row < light.rows; ++row) {
    for (int column = 0; column < light.cols; ++column) {
      const double encoded = 255 * linear_to_srgb(std::clamp<double>(light.at<float>(row, column), 0, 1));
      photo.rgb.at<cv::Vec3b>(row, column) =
          cv::Vec3b::all(cv::saturate_cast<unsigned char>(encoded + double{noise.at<float>(row, column)}));
    }
  }
  return photo;
}

PaintMap perfect_map(const GroundScene& scene, double photo_per_cell) {
  const Ground ground = ground_of(scene.view, scene.size);
  const Surface surface(scene);
  const cv::Size size(static_cast<int>(std::ceil(scene.size.width / photo_per_cell)),
                      static_cast<int>(std::ceil(scene.size.height / photo_per_cell)));
  PaintMap map;
  map.photo_per_cell = photo_per_cell;
  map.footprint = cv::Mat::zeros(size, CV_32F);
  map.not_ground = cv::Mat::zeros(size, CV_32F);
  for (int row = 0; row < size.height; ++row) {
    for (int column = 0; column < size.width; ++column) {
      for (int i = 0; i < kLooks; ++i) {
        for (int j = 0; j < kLooks; ++j) {
          const ImagePoint p =
              straightened(scene, ImagePoint{column + (j + 0.5) / kLooks, row + (i + 0.5) / kLooks} * photo_per_cell);
          const bool sky = ground.ground_from_image.depth(p) <= 0.02;
          if (sky) {
            map.not_ground.at<float>(row, column) += 1.F / (kLooks * kLooks);
          } else if (surface.painted(ground.ground_from_image(p))) {
            map.footprint.at<float>(row, column) += 1.F / (kLooks * kLooks);
          }
        }
      }
    }
  }
  map.pavement = 1 - map.footprint - map.not_ground;
  map.top_coat = map.footprint.clone();
  map.older_coat = map.lost_abraded = map.lost_flaked = map.lost_cracked = cv::Mat::zeros(size, CV_32F);
  return map;
}

View view_from(double tilt_deg, double lean_deg, double away_mm, double focal_px) {
  constexpr double kDegree = std::numbers::pi / 180;
  View view;
  view.lean = lean_deg * kDegree;
  view.pitch = std::acos(std::clamp(std::cos(tilt_deg * kDegree) / std::cos(view.lean), -1.0, 1.0));
  view.log_focal = std::log(focal_px);
  view.log_height = std::log(away_mm * std::cos(tilt_deg * kDegree));
  return view;
}

GroundPoint middle_of(const GroundScene& scene) {
  return ground_of(scene.view, scene.size).ground_from_image({scene.size.width / 2.0, scene.size.height / 2.0});
}

LaidSheet sheet_at(GroundPoint at, double turn, Paper paper) {
  const SheetLayout layout = sheet_layout(paper);
  const double c = std::cos(turn), s = std::sin(turn), x = layout.width_mm / 2, y = layout.height_mm / 2;
  return {paper, at - GroundPoint{c * x - s * y, s * x + c * y}, turn, 0};
}

}  // namespace lotwear::test
