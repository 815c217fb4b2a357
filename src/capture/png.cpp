#include <fmt/format.h>
#include <png.h>

#include <algorithm>
#include <array>
#include <csetjmp>
#include <cstdio>
#include <cstring>

#include "capture/decode.hpp"
#include "capture/orientation.hpp"

namespace lotwear {
namespace {

struct Source {
  ByteView bytes;
  std::size_t at = 0;
};

void read_bytes(png_structp png, png_bytep to, std::size_t count) {
  auto& source = *static_cast<Source*>(png_get_io_ptr(png));
  if (count > source.bytes.size() - source.at) png_error(png, "the file ends too early");
  std::memcpy(to, source.bytes.data() + source.at, count);
  source.at += count;
}

using Message = std::array<char, 128>;

[[noreturn]] void jump_back(png_structp png, png_const_charp what) {
  auto& message = *static_cast<Message*>(png_get_error_ptr(png));
  std::snprintf(message.data(), message.size(), "%s", what);
  png_longjmp(png, 1);
}

void ignore_warning(png_structp /*png*/, png_const_charp /*what*/) {}

/// Each member that calls libpng sets its own way back and holds nothing that would need destroying when it jumps.
class PngReader {
 public:
  explicit PngReader(ByteView bytes) : source_{bytes} {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, &message_, jump_back, ignore_warning);
    if (png_ != nullptr) info_ = png_create_info_struct(png_);
    require(info_ != nullptr, "libpng starts");
  }
  PngReader(const PngReader&) = delete;
  PngReader& operator=(const PngReader&) = delete;
  ~PngReader() { png_destroy_read_struct(&png_, &info_, nullptr); }

  bool read_header() {
    if (setjmp(png_jmpbuf(png_)) != 0) return false;
    png_set_read_fn(png_, &source_, read_bytes);
    png_set_user_limits(png_, 0x7FFFFFFF, 0x7FFFFFFF);  // ours come right after, with a sentence
    png_set_chunk_malloc_max(png_, std::size_t{16} << 20);
    png_set_chunk_cache_max(png_, 64);
    png_read_info(png_, info_);
    return true;
  }

  /// 8-bit R G B, whatever the file holds; alpha is left out, because nothing lies behind a photo.
  bool start() {
    if (setjmp(png_jmpbuf(png_)) != 0) return false;
    png_set_expand(png_);
    png_set_scale_16(png_);
    png_set_strip_alpha(png_);
    png_set_gray_to_rgb(png_);
    passes_ = png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    return png_get_rowbytes(png_, info_) == 3 * std::size_t{width()} && png_get_bit_depth(png_, info_) == 8;
  }

  bool read_rows(cv::Mat& rgb) {
    if (setjmp(png_jmpbuf(png_)) != 0) return false;
    for (int pass = 0; pass < passes_; ++pass) {
      for (row_ = 0; row_ < rgb.rows; ++row_)
        png_read_row(png_, rgb.ptr(row_), nullptr);
    }
    return true;
  }

  /// The rest of the chunks, where EXIF may stand too; the picture is whole, so an error here costs nothing.
  void read_end() {
    if (setjmp(png_jmpbuf(png_)) != 0) return;
    png_read_end(png_, info_);
  }

  ByteView exif() {
    png_bytep data = nullptr;
    png_uint_32 length = 0;
    return png_get_eXIf_1(png_, info_, &length, &data) != 0 ? ByteView(data, length) : ByteView{};
  }

  ColourClaim colour() {
    ColourClaim claim;
    png_charp name = nullptr;
    png_bytep icc = nullptr;
    png_uint_32 length = 0;
    int way = 0;
    if (png_get_iCCP(png_, info_, &name, &way, &icc, &length) != 0) {
      claim.icc.assign(icc, icc + length);
      return claim;
    }
    if (png_get_sRGB(png_, info_, &way) != 0) return claim;
    double gamma = 0;
    // 1/2.2 is how programs write "as sRGB" (PNG specification, 2nd edition, 11.3.3.5).
    if (png_get_gAMA(png_, info_, &gamma) != 0 && gamma > 0.05 && std::abs(gamma - 1 / 2.2) > 0.01)
      claim.gamma = 1 / gamma;
    Primaries p;
    if (png_get_cHRM(png_, info_, &p.white[0], &p.white[1], &p.red[0], &p.red[1], &p.green[0], &p.green[1], &p.blue[0],
                     &p.blue[1]) != 0) {
      claim.primaries = p;
    }
    return claim;
  }

  png_uint_32 width() const { return png_get_image_width(png_, info_); }
  png_uint_32 height() const { return png_get_image_height(png_, info_); }
  bool has_colour() const { return (png_get_color_type(png_, info_) & PNG_COLOR_MASK_COLOR) != 0; }
  const char* message() const { return message_.data(); }
  int row() const { return row_; }
  int passes() const { return passes_; }

 private:
  Source source_;
  Message message_{};
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  int passes_ = 1;
  int row_ = 0;
};

}  // namespace

Result<Decoded> decode_png(ByteView bytes, const std::string& file, const CaptureSettings& settings) {
  PngReader reader(bytes);
  const auto broken = [&] { return Problem{file, fmt::format("damaged PNG ({}); copy it again", reader.message())}; };
  if (!reader.read_header()) return broken();
  if (const auto refused = refused_size(reader.width(), reader.height(), settings)) return Problem{file, *refused};

  Decoded decoded;
  decoded.stored = cv::Size(static_cast<int>(reader.width()), static_cast<int>(reader.height()));
  decoded.grey_file = !reader.has_colour();
  decoded.colour = reader.colour();
  if (!reader.start()) return broken();
  cv::Mat stored(decoded.stored, CV_8UC3);
  if (!reader.read_rows(stored)) {
    if (reader.passes() > 1) return broken();
    return Problem{file, fmt::format("torn file: only {:.0f} % of the picture can be read ({}); copy it again",
                                     100.0 * reader.row() / stored.rows, reader.message())};
  }
  reader.read_end();
  decoded.exif = read_exif(reader.exif());
  if (decoded.exif.orientation == 1) {
    decoded.rgb = stored;
    return decoded;
  }
  decoded.rgb.create(upright_size(decoded.stored, decoded.exif.orientation), CV_8UC3);
  constexpr int kBandRows = 32;  // bands stay in the cache
  for (int first = 0; first < stored.rows; first += kBandRows) {
    place_rows(stored.ptr(first), stored.step[0], first, std::min(kBandRows, stored.rows - first), decoded.stored,
               decoded.exif.orientation, decoded.rgb);
  }
  return decoded;
}

}  // namespace lotwear
