#pragma once
// Photos of one walk are taken by one person: where some of them show how high the phone was held, the others know it
// better than from people at large.

#include <optional>
#include <string>
#include <vector>

namespace lotwear {

/// Height of the camera over the pavement: logarithm of millimetres and its one standard deviation.
struct CameraHeight {
  double log_mm = 0, error = 0;
};

/// Seconds on the clock of the place; an offset from UTC is the same for all photos of a walk and does not count.
/// Nothing when it is no ISO 8601 time.
std::optional<double> seconds_of(const std::string& taken);

struct WalkPhoto {
  std::string camera;                ///< make and model; empty: unknown
  std::optional<std::string> taken;  ///< ISO 8601; a photo without a time belongs to no walk
  std::optional<CameraHeight> seen;  ///< from a scale sheet or known sizes, without any belief about hands
};

/// Two independent sources as one.
CameraHeight together(const CameraHeight& a, const CameraHeight& b);

/// What is believed of each photo's height from the other photos of its walk, in the order given. Nothing for a photo
/// whose walk shows no height.
std::vector<std::optional<CameraHeight>> heights_by_walk(const std::vector<WalkPhoto>& photos);

}  // namespace lotwear
