#include "views/grey_png.hpp"

#include <png.h>

#include <cmath>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr double kInchesPerMetre = 1 / 0.0254;

void append(png_structp png, png_bytep bytes, png_size_t count) {
  static_cast<std::string*>(png_get_io_ptr(png))->append(bytes, bytes + count);
}
void keep_still(png_structp) {}
[[noreturn]] void fail(png_structp, png_const_charp why) {
  throw Failure(std::string("the picture cannot be encoded as PNG (") + why + ")");
}

struct Writer {
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, fail, nullptr);
  png_infop info = png != nullptr ? png_create_info_struct(png) : nullptr;

  Writer() = default;
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;
  ~Writer() { png_destroy_write_struct(&png, &info); }
};

}  // namespace

std::string grey_png(const cv::Mat& grey, double dpi) {
  require(grey.type() == CV_8UC1 && !grey.empty(), "a grey picture has one byte a pixel");
  std::string bytes;
  Writer writer;
  if (writer.info == nullptr) throw Failure("the picture cannot be encoded as PNG (no memory)");
  png_set_write_fn(writer.png, &bytes, append, keep_still);
  png_set_IHDR(writer.png, writer.info, static_cast<png_uint_32>(grey.cols), static_cast<png_uint_32>(grey.rows), 8,
               PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  const auto per_metre = static_cast<png_uint_32>(std::lround(dpi * kInchesPerMetre));
  png_set_pHYs(writer.png, writer.info, per_metre, per_metre, PNG_RESOLUTION_METER);
  png_write_info(writer.png, writer.info);
  for (int row = 0; row < grey.rows; ++row)
    png_write_row(writer.png, grey.ptr<unsigned char>(row));
  png_write_end(writer.png, writer.info);
  return bytes;
}

}  // namespace lotwear
