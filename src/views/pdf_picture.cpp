#include "views/pdf_picture.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

constexpr double kPhotoDpi = 230;  // flakes of 3 mm on a 2 m marking are half a pixel wider than a printer's dot
constexpr double kDrawnDpi = 200;  // maps of causes: flat fills with patterns of a few pixels
constexpr int kJpegQuality = 82;
constexpr std::int64_t kMostPixels = 50'000'000;  // decoded; ours are below 3 million

/// Decoded small where the format can; empty when it is no picture.
cv::Mat decoded(const ReportPicture& picture, double scale) {
  if (static_cast<std::int64_t>(picture.width) * picture.height > kMostPixels) return {};
  const bool jpeg = picture.media_type == "image/jpeg";
  int how = cv::IMREAD_COLOR;
  if (jpeg && scale <= 0.25)
    how = cv::IMREAD_REDUCED_COLOR_4;
  else if (jpeg && scale <= 0.5)
    how = cv::IMREAD_REDUCED_COLOR_2;
  const cv::Mat bytes(1, static_cast<int>(picture.bytes.size()), CV_8U, const_cast<char*>(picture.bytes.data()));
  try {
    return cv::imdecode(bytes, how | cv::IMREAD_IGNORE_ORIENTATION);
  } catch (const cv::Exception&) {
    return {};
  }
}

}  // namespace

PrintPicture print_picture(const ReportPicture& picture, double w, double h) {
  PrintPicture print;
  if (picture.bytes.empty() || picture.width < 1 || picture.height < 1) return print;
  const bool photo = picture.media_type == "image/jpeg";
  const double points = std::min(w / picture.width, h / picture.height);  // of one pixel
  const double scale = std::min(1.0, points * (photo ? kPhotoDpi : kDrawnDpi) / 72);
  cv::Mat pixels = decoded(picture, scale);
  if (pixels.empty()) return print;
  const cv::Size wanted(std::max(1, static_cast<int>(std::lround(picture.width * scale))),
                        std::max(1, static_cast<int>(std::lround(picture.height * scale))));
  if (wanted.width < pixels.cols) cv::resize(pixels, pixels, wanted, 0, 0, cv::INTER_AREA);
  print.width = pixels.cols;
  print.height = pixels.rows;
  if (photo) {
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", pixels, bytes, {cv::IMWRITE_JPEG_QUALITY, kJpegQuality});
    print.jpeg.assign(bytes.begin(), bytes.end());
    return print;
  }
  cv::Mat bgrx;
  cv::cvtColor(pixels, bgrx, cv::COLOR_BGR2BGRA);  // Cairo's RGB24 on the little-endian machines that we build for
  print.rgb.assign(bgrx.data, bgrx.data + bgrx.total() * 4);
  return print;
}

cairo_surface_t* print_surface(const PrintPicture& picture) {
  cairo_surface_t* const surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, picture.width, picture.height);
  if (cairo_surface_status(surface) != CAIRO_STATUS_SUCCESS) return surface;
  if (!picture.jpeg.empty()) {
    auto* const bytes = static_cast<unsigned char*>(std::malloc(picture.jpeg.size()));
    if (bytes == nullptr) return surface;
    std::memcpy(bytes, picture.jpeg.data(), picture.jpeg.size());
    cairo_surface_set_mime_data(surface, CAIRO_MIME_TYPE_JPEG, bytes, picture.jpeg.size(), std::free, bytes);
    return surface;
  }
  unsigned char* const rows = cairo_image_surface_get_data(surface);
  const int stride = cairo_image_surface_get_stride(surface);
  for (int y = 0; y < picture.height; ++y)
    std::memcpy(rows + static_cast<std::ptrdiff_t>(y) * stride,
                picture.rgb.data() + static_cast<std::ptrdiff_t>(y) * picture.width * 4,
                static_cast<std::size_t>(picture.width) * 4);
  cairo_surface_mark_dirty(surface);
  return surface;
}

}  // namespace lotwear
