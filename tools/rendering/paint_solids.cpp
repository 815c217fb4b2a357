#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/shapes_parts.hpp"
#include "rendering/prism.hpp"
#include "rendering/solids.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

GroundPoint out_of(const SolidPart& part, const Solid& solid, GroundPoint p) {
  const GroundPoint q = p + part.at;
  const double c = std::cos(solid.turn), s = std::sin(solid.turn);
  return {solid.at.x + c * q.x - s * q.y, solid.at.y + s * q.x + c * q.y};
}

/// A flat face in the photo, and where its corners lie on the solid, in millimetres: its look clings to it.
struct Face {
  std::vector<cv::Point2f> corners, on_solid;  ///< four or more
};

/// Photo -> solid, by four corners spread around the face.
cv::Matx33d map_of(const Face& face) {
  std::vector<cv::Point2f> from, to;
  for (std::size_t k = 0; k < 4; ++k) {
    const std::size_t i = k * face.corners.size() / 4;
    from.push_back(face.corners[i]);
    to.push_back(face.on_solid[i]);
  }
  return cv::getPerspectiveTransform(from, to);
}

/// Millimetres in units of a texture's own size; a face seen edge-on has no map, and no look.
float in_units(double mm, double of) { return std::abs(mm) < 1e6 ? static_cast<float>(mm / of) : 0; }

/// Where the squares of a part lie on one of its faces.
class SquaresOnFace {
 public:
  SquaresOnFace(const Squares& squares, const Face& face) : squares_(squares) {
    if (squares.side_mm <= 0) return;
    const double margin = squares.margin_mm;
    cv::Point2f low = face.on_solid[0], high = low;
    for (const cv::Point2f& p : face.on_solid) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
    left_ = static_cast<double>(low.x) + margin, top_ = static_cast<double>(low.y) + margin;
    columns_ = static_cast<int>((static_cast<double>(high.x) - margin - left_) / squares.side_mm);
    rows_ = static_cast<int>((static_cast<double>(high.y) - margin - top_) / squares.side_mm);
  }

  bool covers(double x, double y) const {
    if (columns_ < 1 || rows_ < 1) return false;
    const double u = (x - left_) / squares_.side_mm, v = (y - top_) / squares_.side_mm;
    if (!(u >= 0 && v >= 0 && u < columns_ && v < rows_)) return false;
    const int column = static_cast<int>(u), row = static_cast<int>(v);
    const double off = std::max(std::abs(u - column - 0.5), std::abs(v - row - 0.5));
    return (column + row) % 2 == 0 && off < squares_.filled / 2;
  }

 private:
  Squares squares_;
  double left_ = 0, top_ = 0;
  int columns_ = 0, rows_ = 0;
};

/// Colour and light of one face of a part.
struct FaceLook {
  Rgb plain, squares;
};

void fill_face(cv::Mat& radiance, const Face& face, const FaceLook& look, const SolidPart& part) {
  const Unevenness& uneven = part.uneven;
  cv::Rect around = cv::boundingRect(face.corners);
  around =
      cv::Rect(around.x - 1, around.y - 1, around.width + 2, around.height + 2) & cv::Rect({0, 0}, radiance.size());
  if (around.empty()) return;
  cv::Mat mask = cv::Mat::zeros(around.size(), CV_8U);
  std::vector<cv::Point> points;
  for (const cv::Point2f& p : face.corners) {
    points.emplace_back(
        static_cast<int>(std::lround(static_cast<double>(p.x - static_cast<float>(around.x)) * 16 - 8)),
        static_cast<int>(std::lround(static_cast<double>(p.y - static_cast<float>(around.y)) * 16 - 8)));
  }
  cv::fillConvexPoly(mask, points, 255, cv::LINE_8, 4);
  const cv::Matx33d to_solid = map_of(face);
  const SquaresOnFace squares(part.squares, face);
  const Tiles& all = tiles();
  for (int r = 0; r < mask.rows; ++r) {
    const auto* in = mask.ptr<unsigned char>(r);
    auto* row = radiance.ptr<cv::Vec3f>(r + around.y) + around.x;
    for (int c = 0; c < mask.cols; ++c) {
      if (in[c] == 0) continue;
      const cv::Vec3d at = to_solid * cv::Vec3d(c + around.x + 0.5, r + around.y + 0.5, 1);
      const double x = at[0] / at[2], y = at[1] / at[2];
      const double texel = uneven.grain_mm / StoneTile::kStone;
      const double clouds = static_cast<double>(all.soft(in_units(x, uneven.clouds_mm), in_units(y, uneven.clouds_mm)));
      const double grain = static_cast<double>(all.stones(in_units(x, texel), in_units(y, texel)).rank) - 0.5;
      const auto gain = static_cast<float>(std::exp(-uneven.clouds * std::abs(clouds) + uneven.grain * grain));
      const Rgb& colour = squares.covers(x, y) ? look.squares : look.plain;
      row[c] = {colour.r * gain, colour.g * gain, colour.b * gain};
    }
  }
}

}  // namespace

Prism prism_of(const SolidPart& part, const Solid& solid) {
  Prism prism;
  for (const GroundPoint& p : part.foot) {
    prism.foot.push_back(out_of(part, solid, p));
    prism.top.push_back(out_of(part, solid, p * part.taper));
  }
  return prism;
}

void paint_solids(cv::Mat& radiance, const Camera& camera, const ScenePlan& scene) {
  const LightPlan& light = scene.light;
  const double height = light.sun_height_deg * shape_parts::kRadiansPerDegree;
  std::vector<Solid> solids = scene.solids;
  std::sort(solids.begin(), solids.end(), [&](const Solid& a, const Solid& b) {
    return length(a.at - camera.stand()) > length(b.at - camera.stand());
  });
  for (const Solid& solid : solids) {
    for (const SolidPart& part : solid.parts) {
      const Prism prism = prism_of(part, solid);
      const std::size_t n = prism.foot.size();
      const auto lit = [&](double facing) {
        const float sun = static_cast<float>(light.sun * std::max(0.0, facing) / std::sin(height)),
                    sky = static_cast<float>(0.75 * light.sky);
        const auto of = [&](Rgb colour) {
          return Rgb{colour.r * (sun * light.sun_colour.r + sky * light.sky_colour.r),
                     colour.g * (sun * light.sun_colour.g + sky * light.sky_colour.g),
                     colour.b * (sun * light.sun_colour.b + sky * light.sky_colour.b)};
        };
        return FaceLook{of(part.colour), of(part.squares.colour)};
      };
      Face top;
      const auto point = [](const ImagePoint& v) {
        return cv::Point2f(static_cast<float>(v.x), static_cast<float>(v.y));
      };
      for (std::size_t i = 0; i < n; ++i) {
        const GroundPoint a = prism.foot[i], b = prism.foot[(i + 1) % n], ta = prism.top[i],
                          tb = prism.top[(i + 1) % n];
        const auto p = camera.see_above(a, part.bottom_mm), q = camera.see_above(b, part.bottom_mm),
                   s = camera.see_above(tb, part.top_mm), t = camera.see_above(ta, part.top_mm);
        if (!p || !q || !s || !t) continue;
        const float wide = static_cast<float>(length(b - a)), tall = static_cast<float>(part.top_mm - part.bottom_mm);
        top.corners.push_back(point(*t));
        top.on_solid.emplace_back(static_cast<float>(part.foot[i].x), static_cast<float>(part.foot[i].y));
        // foot rings run clockwise seen from above with y down, so the outward normal lies to the left
        const GroundPoint along = b - a, out = GroundPoint{along.y, -along.x} * (1 / std::max(1e-6, length(along)));
        if (dot(out, camera.stand() - a) <= 0) continue;
        const double facing = std::cos(height) * (out.x * std::cos(light.sun_turn) + out.y * std::sin(light.sun_turn));
        fill_face(radiance,
                  {{point(*p), point(*q), point(*s), point(*t)}, {{0, 0}, {wide, 0}, {wide, tall}, {0, tall}}},
                  lit(facing), part);
      }
      if (top.corners.size() >= 4 && part.top_mm < scene.camera.stand_mm)
        fill_face(radiance, top, lit(std::sin(height)), part);
    }
  }
}

}  // namespace lotwear::rendering
