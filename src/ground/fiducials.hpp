#pragma once
// Fiducials of a scale sheet in a photo: which, and where their corners are to a fraction of a pixel.

#include <array>
#include <opencv2/aruco.hpp>
#include <optional>
#include <vector>

#include "base/geometry.hpp"
#include "capture/photo.hpp"
#include "ground/sheet.hpp"

namespace lotwear {

/// Corners clockwise in the photo, starting with the fiducial's own top-left one.
struct SeenFiducial {
  int id = 0;
  std::array<ImagePoint, 4> corners;
  std::array<double, 4> error_px{};  ///< one standard deviation of each corner, each direction
};

/// Black square around four rough corners, refined on the full-resolution photo. `cells`: how many code cells the
/// square has a side (border included), so that a profile stays inside the black border. Nothing unless all four edges
/// are dark inside and bright outside.
std::optional<SeenFiducial> refine_fiducial(const Photo& photo, int id, const std::array<ImagePoint, 4>& rough,
                                            int cells);

/// The sheet with most fiducials in view, their corners rough (a pixel or two); empty when there is none.
struct RoughSheet {
  Paper paper = Paper::letter;
  std::vector<SeenFiducial> fiducials;
};
RoughSheet detect_sheet(const Photo& photo);

}  // namespace lotwear
