#include "capture/photo.hpp"

#include <new>
#include <opencv2/core.hpp>

#include "capture/decode.hpp"
#include "capture/quality.hpp"
#include "capture/sample.hpp"

namespace lotwear {
namespace {

Result<Decoded> decode(ByteView bytes, const std::string& file, const CaptureSettings& settings) {
  const Result<PhotoFormat> format = photo_format(bytes, file);
  if (!format) return format.problem();
  switch (*format) {
    case PhotoFormat::jpeg:
      return decode_jpeg(bytes, file, settings);
    case PhotoFormat::png:
      return decode_png(bytes, file, settings);
    case PhotoFormat::heic:
      return decode_heic(bytes, file, settings);
  }
  return Problem{file, "is of no known format; export it as JPEG"};
}

Result<Photo> make_photo(const std::filesystem::path& path, const CaptureSettings& settings) {
  const std::string file = path.filename().string();
  const Result<Bytes> bytes = read_photo_bytes(path, settings.max_bytes);
  if (!bytes) return bytes.problem();
  Result<Decoded> decoded = decode(*bytes, file, settings);
  if (!decoded) return decoded.problem();

  Photo photo;
  photo.path = path;
  photo.file = file;
  photo.sha256 = sha256_hex(*bytes);
  photo.rgb = decoded->rgb;
  if (decoded->exif.adobe_rgb && decoded->colour.icc.empty() && !decoded->colour.primaries) {
    decoded->colour.primaries = kAdobeRgbPrimaries;
    decoded->colour.gamma = 563.0 / 256;  // Adobe RGB (1998), version 2005-05, 4.3.1.2 (from memory)
  }
  ColourReading colour = read_colour(decoded->colour, decoded->grey_file);
  photo.space = std::move(colour.space);
  photo.taken = decoded->exif.taken;
  photo.position = decoded->exif.position;
  photo.focal_px = focal_in_pixels(decoded->exif, decoded->stored);
  photo.camera = decoded->exif.camera;
  const Sample sample = sample_photo(photo.rgb);
  photo.grey = decoded->grey_file || sample.grey;
  photo.quality = judge(photo.rgb, sample);

  std::vector<std::string>& advice = photo.quality.advice;
  if (colour.advice) advice.push_back(*std::move(colour.advice));
  advice.insert(advice.end(), decoded->advice.begin(), decoded->advice.end());
  advice.insert(advice.end(), decoded->exif.advice.begin(), decoded->exif.advice.end());
  return photo;
}

}  // namespace

Result<Photo> read_photo(const std::filesystem::path& path, const CaptureSettings& settings) {
  try {
    return make_photo(path, settings);
  } catch (const std::bad_alloc&) {
    return Problem{path.filename().string(), "there is not enough memory for this photo; export it smaller"};
  } catch (const cv::Exception& error) {
    if (error.code != cv::Error::StsNoMem) throw;
    return Problem{path.filename().string(), "there is not enough memory for this photo; export it smaller"};
  }
}

}  // namespace lotwear
