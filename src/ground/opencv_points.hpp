#pragma once
// OpenCV's contours, warps and fiducials put the first pixel's centre at (0, 0); its resize, and we, at (0.5, 0.5).

#include <opencv2/core/types.hpp>

#include "base/geometry.hpp"

namespace lotwear {

/// A point OpenCV found in a picture reduced by `factor`, as a point of the whole photo. `corner` is the photo pixel
/// where the reduced picture starts.
inline ImagePoint from_opencv(cv::Point2d p, double factor = 1, cv::Point corner = {}) {
  return {(p.x + 0.5) * factor + corner.x, (p.y + 0.5) * factor + corner.y};
}

inline cv::Point2d to_opencv(ImagePoint p) { return {p.x - 0.5, p.y - 0.5}; }

}  // namespace lotwear
