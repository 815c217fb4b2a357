#include <fmt/format.h>

#include <cmath>
#include <exiv2/exiv2.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "base/trouble.hpp"
#include "rendering/photograph.hpp"

namespace lotwear::rendering {

namespace {

std::string degrees(double value) {
  const double v = std::abs(value);
  const int whole = static_cast<int>(v), minutes = static_cast<int>((v - whole) * 60);
  const double seconds = ((v - whole) * 60 - minutes) * 60;
  return fmt::format("{}/1 {}/1 {}/10000", whole, minutes, std::lround(seconds * 10000));
}

Exiv2::ExifData exif_of(const ScenePlan& plan, cv::Size stored) {
  Exiv2::ExifData exif;
  exif["Exif.Image.Make"] = "Invented";
  exif["Exif.Image.Model"] = "Scene camera";
  exif["Exif.Image.Orientation"] = static_cast<std::uint16_t>(plan.camera.orientation);
  exif["Exif.Image.DateTime"] = plan.taken;
  exif["Exif.Photo.DateTimeOriginal"] = plan.taken;
  exif["Exif.Photo.FocalLengthIn35mmFilm"] = static_cast<std::uint16_t>(plan.camera.focal_35mm);
  exif["Exif.Photo.PixelXDimension"] = static_cast<std::uint32_t>(stored.width);
  exif["Exif.Photo.PixelYDimension"] = static_cast<std::uint32_t>(stored.height);
  if (plan.lat != 0 || plan.lon != 0) {
    exif["Exif.GPSInfo.GPSLatitudeRef"] = plan.lat < 0 ? "S" : "N";
    exif["Exif.GPSInfo.GPSLatitude"] = degrees(plan.lat);
    exif["Exif.GPSInfo.GPSLongitudeRef"] = plan.lon < 0 ? "W" : "E";
    exif["Exif.GPSInfo.GPSLongitude"] = degrees(plan.lon);
    exif["Exif.GPSInfo.GPSHPositioningError"] = Exiv2::URational(5, 1);
  }
  return exif;
}

}  // namespace

std::string photo_file(const cv::Mat& rgb, const ScenePlan& plan) {
  cv::Mat stored, bgr;
  // orientation 6: the viewer turns the stored picture clockwise; 8: counter-clockwise
  if (plan.camera.orientation == 6) {
    cv::rotate(rgb, stored, cv::ROTATE_90_COUNTERCLOCKWISE);
  } else if (plan.camera.orientation == 8) {
    cv::rotate(rgb, stored, cv::ROTATE_90_CLOCKWISE);
  } else {
    stored = rgb;
  }
  cv::cvtColor(stored, bgr, cv::COLOR_RGB2BGR);
  std::vector<std::uint8_t> jpeg;
  require(cv::imencode(".jpg", bgr, jpeg, {cv::IMWRITE_JPEG_QUALITY, plan.camera.jpeg_quality}),
          "a photo can be encoded");
  const Exiv2::Image::AutoPtr image = Exiv2::ImageFactory::open(jpeg.data(), static_cast<long>(jpeg.size()));
  image->setExifData(exif_of(plan, stored.size()));
  image->writeMetadata();
  Exiv2::BasicIo& io = image->io();
  io.open();
  const Exiv2::DataBuf bytes = io.read(static_cast<long>(io.size()));
  return {reinterpret_cast<const char*>(bytes.pData_), static_cast<std::size_t>(bytes.size_)};
}

}  // namespace lotwear::rendering
