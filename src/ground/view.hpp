#pragma once
// Where the camera stands and what is believed about it: four numbers and their covariance.

#include <array>
#include <opencv2/core/matx.hpp>
#include <opencv2/core/types.hpp>
#include <vector>

#include "ground/ground.hpp"

namespace lotwear {

/// Camera over the pavement. With both angles 0 it looks straight down.
struct View {
  double pitch = 0;       ///< radians; grows as the camera is raised towards the horizon
  double lean = 0;        ///< radians; a sideways lean. Steady at every pitch, unlike a roll about the optical axis
  double log_focal = 0;   ///< of pixels
  double log_height = 0;  ///< of millimetres
};

struct ViewBelief {
  View view;
  cv::Matx44d covariance;  ///< in View's order
};

/// The pavement's normal in camera coordinates, as ground_from_pose() takes it.
std::array<double, 3> down_of(const View& view);
Ground ground_of(const View& view, cv::Size photo);
View moved(const View& view, const cv::Vec4d& by);

/// How the belief's errors reach lengths on the ground, as root mean squares over the given photo points. Points on or
/// above the horizon are left out.
struct LengthErrors {
  double scale = 0;  ///< one standard deviation of a length, as a share of it
  double shape = 0;  ///< one standard deviation of the ratio of two lengths at right angles
};
LengthErrors length_errors(const ViewBelief& belief, cv::Size photo, const std::vector<ImagePoint>& at);

/// Points of the photo where markings may lie when nothing better is known: the picture's middle and the ground around
/// it, out to where the view becomes too flat to measure.
std::vector<ImagePoint> usual_points(const View& view, cv::Size photo);

/// Cosine of the angle between a photo point's ray and the pavement's normal: 1 straight below, 0 at the horizon.
double steepness(const View& view, cv::Size photo, ImagePoint at);

}  // namespace lotwear
