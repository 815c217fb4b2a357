#pragma once
// Radiance on the ground -> what a phone makes of it: optics, sensor, development, file.

#include <opencv2/core/mat.hpp>
#include <string>

#include "rendering/camera.hpp"
#include "rendering/ground_raster.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// Radiance at each pixel of the upright photo, CV_32FC3 linear. The strips reach to `far_mm`; beyond lies
/// `far_ground`.
cv::Mat look(const Camera& camera, const std::vector<Strip>& strips, const ScenePlan& plan, double far_mm,
             Rgb far_ground);

/// Lens, sensor and the phone's own processing: 8-bit sRGB-encoded RGB, upright.
cv::Mat develop(const cv::Mat& radiance, const CameraPlan& camera, std::uint64_t seed);

/// The JPEG file's bytes with EXIF, pixels stored as the orientation asks.
std::string photo_file(const cv::Mat& rgb, const ScenePlan& plan);

}  // namespace lotwear::rendering
