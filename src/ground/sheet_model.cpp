#include "ground/sheet_model.hpp"

#include <cmath>

namespace lotwear {

namespace {

constexpr double kBehindCamera = 1e6;  // pixels: far from any corner seen

}  // namespace

SheetPicture::SheetPicture(const SheetModel& model)
    : model_(model),
      ground_(ground_of(model.view(), model.photo)),
      height_(std::exp(model.at[kLogHeight])),
      cosine_(std::cos(model.at[kYaw])),
      sine_(std::sin(model.at[kYaw])),
      bend_(model.at[kBend] * std::exp(-2 * model.at[kLogFocal])) {}

ImagePoint SheetPicture::point(double x_mm, double y_mm) const {
  const SheetUnknowns& u = model_.at;
  const double x = x_mm / model_.paper_mm.width, y = y_mm / model_.paper_mm.height;
  const double lifted = u[kLiftRight] * x * x + u[kLiftLeft] * (1 - x) * (1 - x) + u[kLiftBottom] * y * y +
                        u[kLiftTop] * (1 - y) * (1 - y);
  const GroundPoint laid{cosine_ * x_mm - sine_ * y_mm + height_ * u[kShiftX],
                         sine_ * x_mm + cosine_ * y_mm + height_ * u[kShiftY]};
  // The ray through a lifted point meets the ground farther from the spot below the camera.
  const GroundPoint g = laid * (height_ / (height_ - lifted));
  if (ground_.image_from_ground.depth(g) <= 0) return {kBehindCamera, kBehindCamera};
  const ImagePoint middle{model_.photo.width / 2.0, model_.photo.height / 2.0};
  const ImagePoint out = ground_.image_from_ground(g) - middle;
  return middle + out * (1 + bend_ * dot(out, out));
}

ImagePoint SheetPicture::corner(const SheetCorner& corner) const {
  constexpr double kAlongMm = 5;
  const ImagePoint at = point(corner.x_mm, corner.y_mm);
  const ImagePoint a = point(corner.x_mm + kAlongMm * corner.inward_x, corner.y_mm) - at;
  const ImagePoint b = point(corner.x_mm, corner.y_mm + kAlongMm * corner.inward_y) - at;
  const double size_a = length(a), size_b = length(b);
  const double sine = std::abs(cross(a, b)) / (size_a * size_b);
  if (!(sine > 1e-3)) return at;
  // Both edges move square to themselves by the same number of pixels.
  return at + (a * (1 / size_a) + b * (1 / size_b)) * (model_.at[kShrink] / sine);
}

}  // namespace lotwear
