#pragma once
// One picture a stage, for the person who asks why an answer is wrong: `assess --sketch DIR`. Reduced to 1600 px or
// less.

#include <filesystem>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"
#include "measure/measure.hpp"

namespace lotwear {

/// All CV_8UC3 RGB.

/// The photo with what was read of it: size, time, focal length, sharpness, clipping.
cv::Mat sketch_capture(const Photo& photo);
/// The finder's shares over the photo: paint, older coat and losses in their colours, what is not ground darkened.
cv::Mat sketch_finder(const Photo& photo, const PaintMap& paint);
/// The finder's kinds over the photo.
cv::Mat sketch_kinds(const Photo& photo, const PaintMap& paint);
/// Lines every metre on the pavement, as far as they can be told apart, and the scale sheet where there is one.
cv::Mat sketch_ground(const Photo& photo, const Ground& ground);
/// Outlines with kind and percent of paint left; nothing where a marking could not be measured.
cv::Mat sketch_markings(const Photo& photo, const Markings& markings,
                        const std::vector<std::optional<Interval>>& remaining);
/// Plan views with their loss pictures, in rows; at most the first 40.
cv::Mat sketch_plans(const std::vector<LossMap>& maps, const std::vector<std::string>& names);

/// Writes DIR/<photo without ending>-<stage>.jpg. Throws Failure when it cannot.
void write_sketch(const std::filesystem::path& folder, const Photo& photo, const std::string& stage,
                  const cv::Mat& picture);

}  // namespace lotwear
