#pragma once
// A drawing slid onto the finder's map: all its knobs at once, where a search of one knob at a time is stuck (a head
// widens only while its shaft narrows). For outlines that are whole: on a ragged one it follows the holes.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "marking/shape_pose.hpp"

namespace lotwear {

/// Where the map's paint ends.
struct MapOutline {
  cv::Mat distance;                         ///< CV_32F, pixels to the outline, negative on paint
  cv::Mat inside;                           ///< CV_8U: 0 where the photo shows nothing
  std::vector<PatchPoint> points, normals;  ///< along it, normals away from the paint; none at the rim of map or photo
};
/// `map` CV_32F shares.
MapOutline outline_of(const cv::Mat& map, const cv::Mat& inside);

/// Gauss and Newton on distances both ways, from the drawing's rim to the outline and from the outline to the rim; what
/// lies far off counts less and less. `mm`: of a pixel.
ShapePose slid(const ShapePose& pose, const Shape& shape, const MapOutline& map, double mm, const Knobs& knobs);

}  // namespace lotwear
