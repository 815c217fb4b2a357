#pragma once
// What the three decoders share. Each one looks at sizes before it allocates, applies the orientation while it stores
// the rows, and returns a Problem instead of half a picture.

#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "capture/bytes.hpp"
#include "capture/colour.hpp"
#include "capture/exif.hpp"
#include "capture/photo.hpp"

namespace lotwear {

enum class PhotoFormat { jpeg, png, heic };

struct Decoded {
  cv::Mat rgb;      ///< CV_8UC3, upright
  cv::Size stored;  ///< width and height before the orientation was applied
  ColourClaim colour;
  ExifFacts exif;
  bool grey_file = false;  ///< the file has no colour channels
  std::vector<std::string> advice;
};

/// By content, whatever the ending says; Problem names what it is instead and what to do.
Result<PhotoFormat> photo_format(ByteView bytes, const std::string& file);

Result<Decoded> decode_jpeg(ByteView bytes, const std::string& file, const CaptureSettings& settings);
Result<Decoded> decode_png(ByteView bytes, const std::string& file, const CaptureSettings& settings);
Result<Decoded> decode_heic(ByteView bytes, const std::string& file, const CaptureSettings& settings);

/// Nothing when a picture of this size is to be read, else the sentence.
std::optional<std::string> refused_size(std::int64_t width, std::int64_t height, const CaptureSettings& settings);

}  // namespace lotwear
