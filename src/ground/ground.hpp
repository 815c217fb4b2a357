#pragma once
// Photo -> Ground: the pavement plane under the camera and its scale.
// A scale sheet in view gives everything. Without one it takes two looks: first what the finder's map shows of straight
// edges; then, when `marking` has fitted stripes and shapes on that ground, what these know besides (settle_ground).
// All sources make one posterior of tilt, lean, focal length and height; every stated error comes from it.
// 1. scale sheet: fiducials, or its paper as a whole (paper_quad), sub-pixel edges, pose with the focal length
// (find_sheet)
// 2. straight edges of markings from the finder's map, refined on the photo (straight_edges)
// 3. how a phone is held, where the lot ends, the edges' directions: the most probable pose, with its covariance
//    (likely_view)
// 4. fitted stripes and shapes: the angles of their drawings, equal and usual widths, lengths, proportions (seen_sizes)
// 5. other photos of the same walk: one hand (walk); `app` asks for it when all photos are in
// Tried and lost: a drawing's own line where the photo shows no edge (it agrees with any ground it was fitted on; an
// arrow at 13 degrees stayed at 47); edges of one shape compared like strangers' (1.3 degrees apart is fine between two
// crews' stripes and far too much within a stencil); a pitch prior of 42 +- 16 degrees (photos from above came out at
// 30 to 40).

#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/geometry.hpp"
#include "base/trouble.hpp"
#include "base/units.hpp"
#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/walk.hpp"

namespace lotwear {

/// The camera as far as EXIF or a guess knows it. Principal point at the centre of the photo.
struct Camera {
  double focal_px = 0;
  bool focal_known = false;  ///< false: guessed from a usual phone (26 mm equivalent)
};
Camera camera_of(const Photo& photo);

struct Ground {
  ImageFromGround image_from_ground;  ///< depth() > 0 in front of the camera
  GroundFromImage ground_from_image;  ///< depth() > 0 below the horizon; above it there is no ground
  std::string source;  ///< words of `plane.source`: scale-sheet, stripe-width, shape, focal-length (edges of markings
                       ///< gave the tilt), assumed (only how a phone is usually held)
  std::optional<Fraction> scale_error;  ///< one standard deviation of lengths; nothing: no scale, sizes stay null.
                                        ///< With focal-length or assumed: the holding height's, about 0.17
  Fraction shape_error{};  ///< one standard deviation of the ratio of two lengths at right angles (tilt error)
  double tilt_deg = 0;     ///< optical axis from straight down
  /// Height of the camera: as a sheet or known sizes show it, without any belief about hands. For the walk's other
  /// photos.
  std::optional<CameraHeight> height_seen;
  /// Height as believed, where nothing but the hand's usual one gave the scale: another belief may take its place.
  std::optional<CameraHeight> height_assumed;
  Ring<struct ImageFrame> sheet;  ///< where the scale sheet lies, empty without one: nothing is measured there
};

/// The same plane with lengths multiplied by `factor`.
Ground with_scale(const Ground& ground, double factor, const std::string& source, Fraction error);

/// Plane from camera pose: `down` is the pavement normal in camera coordinates (x right, y down, z ahead; unit length,
/// z > 0 when looking down), `height` the camera's height over the pavement. Ground x is chosen along the photo's x;
/// the ground's origin is the spot straight below the camera.
Ground ground_from_pose(const Camera& camera, cv::Size photo, const std::array<double, 3>& down, Millimetres height);

/// Photo pixel size on the ground at a point: millimetres per pixel along the worse direction and across it.
struct GroundPixel {
  double across_mm = 0, along_mm = 0;
};
GroundPixel ground_pixel(const Ground& ground, ImagePoint at);

/// Straight edges and sizes of outlines that were fitted on a first ground.
struct PaintSeen;
/// The ground of a photo without a scale sheet once more, with what fitted outlines say; `before` is what they were
/// fitted on.
Ground settle_ground(const Photo& photo, const PaintMap& paint, const PaintSeen& seen, const Ground& before);

/// Front door. Problem: nothing in the picture says how the pavement lies.
Result<Ground> find_ground(const Photo& photo, const PaintMap& paint);

}  // namespace lotwear
