#pragma once
// Photo file -> Photo: upright pixels, a way to linear light, when and where it was taken, sharp enough or not.
// 1. read the bytes once (limits stand before the first allocation), SHA-256 them
// 2. decode: JPEG by libjpeg-turbo, PNG by libpng, HEIC by libheif; 16 bit and grey become 8-bit RGB, CMYK is a Problem
// 3. EXIF by exiv2: orientation (applied), time, position, focal length (35 mm equivalent or focal-plane resolution)
// 4. ICC profile by lcms2 -> one tone curve and one matrix to linear sRGB primaries; sRGB when there is none
// 5. quality: sharpness, clipping

#include <array>
#include <filesystem>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/trouble.hpp"
#include "base/units.hpp"

namespace lotwear {

/// How the 8-bit values of a photo become linear light in sRGB primaries (D65). One tone curve for all three channels.
struct ColourSpace {
  std::array<float, 256> linear{};  ///< encoded value -> linear 0..1 in the file's own primaries
  std::array<float, 9> to_srgb{1, 0, 0, 0, 1, 0, 0, 0, 1};  ///< row-major, linear file primaries -> linear sRGB
  std::string name = "sRGB";
};
/// IEC 61966-2-1.
ColourSpace srgb_space();
double srgb_to_linear(double encoded);  ///< 0..1 -> 0..1, IEC 61966-2-1
double linear_to_srgb(double linear);   ///< 0..1 -> 0..1, IEC 61966-2-1

struct Position {
  double lat = 0, lon = 0;  ///< degrees, WGS 84
  std::optional<double> error_m;
};

struct Quality {
  Fraction sharpness{};  ///< contrast kept in stripes 4 px wide: 0 hopeless .. 1 as sharp as the pixels allow
  double blur_px = 0;    ///< estimated blur sigma of the sharpest edges, photo pixels; 8 when nothing is sharp
  Fraction clipped{};    ///< share of pixels at the top of the scale in any channel
  std::vector<std::string> advice;  ///< sentences for the person still on the lot
};

struct Photo {
  std::filesystem::path path;
  std::string file;    ///< name without folder
  std::string sha256;  ///< of the file's bytes, lower-case hex
  cv::Mat rgb;         ///< CV_8UC3, R G B order, upright, as encoded in the file
  ColourSpace space;
  std::optional<std::string> taken;  ///< ISO 8601 local time, "2026-04-11T09:02:00"; with "-04:00" where known
  std::optional<Position> position;
  std::optional<double> focal_px;  ///< focal length in pixels of the upright photo, from EXIF
  std::string camera;              ///< make and model, may be empty
  bool grey = false;               ///< no colour in the picture at all
  Quality quality;
};

struct CaptureSettings {
  double max_megapixels = 120;  ///< larger ones are a Problem: decoded they would not fit a laptop's memory
  int min_side = 32;            ///< pixels; nothing can be measured in smaller ones
  std::size_t max_bytes = std::size_t{256} << 20;
};

/// Problem: missing, empty, truncated, not an image, too large, 1 x 1, CMYK: one sentence saying what to do.
Result<Photo> read_photo(const std::filesystem::path& path, const CaptureSettings& settings = {});

/// Whole photo or a part of it (pixels, inside the photo) as linear light in sRGB primaries: CV_32FC3, R G B, 0..1
/// (a little beyond where a wide-gamut colour lies outside sRGB). Ask for parts: 12 MP as a whole take 150 MB.
cv::Mat linear_rgb(const Photo& photo, const cv::Rect& part);

/// Photo files under the given files and folders (JPEG, PNG, HEIC by ending, folders searched without recursion),
/// sorted by file name; a path that does not exist or cannot be listed goes to `problems`.
struct PhotoList {
  std::vector<std::filesystem::path> files;
  std::vector<Problem> problems;
};
PhotoList list_photos(const std::vector<std::filesystem::path>& paths);

}  // namespace lotwear
