#pragma once
// The pinhole camera of a scene, with its distortion, both ways.

#include <optional>

#include "base/geometry.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

class Camera {
 public:
  explicit Camera(const CameraPlan& plan);

  /// Nothing when the point lies behind the camera.
  std::optional<ImagePoint> see(GroundPoint ground) const;
  /// A point `up_mm` over the ground.
  std::optional<ImagePoint> see_above(GroundPoint ground, double up_mm) const;
  /// Degrees over the horizon of the ray through a photo point; distortion left out.
  double over_horizon_deg(ImagePoint image) const;
  /// Where the ray through a photo point meets the ground; nothing above the horizon.
  std::optional<GroundPoint> ground_at(ImagePoint image) const;
  /// Without distortion; the plane as a homography.
  const GroundFromImage& ground_from_image() const { return ground_from_image_; }
  GroundPoint stand() const { return plan_.stand; }
  int width() const { return plan_.width; }
  int height() const { return plan_.height; }

 private:
  CameraPlan plan_;
  std::optional<ImagePoint> bent(ImagePoint pinhole) const;

  ImageFromGround image_from_ground_;
  GroundFromImage ground_from_image_;
};

/// The part of the ground, up to `far_mm` from the camera's foot, that the photo shows; convex. With `beyond` also what
/// lies outside its edges by that share of its size, at the far end only.
GroundRing visible_ground(const Camera& camera, double far_mm, double beyond);

}  // namespace lotwear::rendering
