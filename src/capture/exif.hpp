#pragma once
// What the camera wrote beside the picture. Every value is checked for sense: cameras and programs lie.

#include <opencv2/core/types.hpp>
#include <optional>
#include <string>
#include <vector>

#include "capture/bytes.hpp"
#include "capture/photo.hpp"

namespace lotwear {

struct ExifFacts {
  int orientation = 1;               ///< 1..8, EXIF 2.32 tag 0x0112
  std::optional<std::string> taken;  ///< ISO 8601, with the offset from UTC where the camera wrote one
  std::optional<Position> position;
  std::optional<double> focal_35mm;        ///< 35 mm equivalent, millimetres
  std::optional<double> focal_mm;          ///< true focal length
  std::optional<double> sensor_px_per_mm;  ///< focal-plane resolution along the stored picture's x
  cv::Size pixels;                  ///< as the camera wrote it (PixelXDimension, PixelYDimension); empty: unknown
  std::string camera;               ///< printable ASCII
  bool adobe_rgb = false;           ///< DCF option file (interoperability index R03)
  std::vector<std::string> advice;  ///< one sentence for each value that cannot be true
};

/// `tiff`: the EXIF block from its TIFF header on, as JPEG APP1, PNG eXIf and HEIC hold it. A block that cannot be read
/// gives no facts and one sentence of advice.
ExifFacts read_exif(ByteView tiff);

/// Focal length in pixels of the picture of `stored` pixels (before turning), nothing when EXIF does not say or cannot
/// be right.
std::optional<double> focal_in_pixels(const ExifFacts& exif, cv::Size stored);

}  // namespace lotwear
