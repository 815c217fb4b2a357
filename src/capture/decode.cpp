#include "capture/decode.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace lotwear {
namespace {

bool holds(ByteView bytes, std::size_t at, std::string_view letters) {
  if (bytes.size() < at + letters.size()) return false;
  return std::equal(letters.begin(), letters.end(), bytes.begin() + static_cast<std::ptrdiff_t>(at),
                    [](char letter, std::uint8_t byte) { return static_cast<std::uint8_t>(letter) == byte; });
}

/// ISO/IEC 23008-12 and 14496-12: the major brand of the `ftyp` box.
bool is_heif(ByteView bytes) {
  constexpr std::array<std::string_view, 9> kBrands = {"heic", "heix", "heim", "heis", "hevc",
                                                       "hevx", "mif1", "msf1", "avif"};
  return holds(bytes, 4, "ftyp") &&
         std::any_of(kBrands.begin(), kBrands.end(), [&](std::string_view brand) { return holds(bytes, 8, brand); });
}

/// Other things that end up in photo folders, by their first bytes.
std::string other_kind(ByteView bytes) {
  if (holds(bytes, 0, "RIFF") && holds(bytes, 8, "WEBP")) return "a WebP picture";
  if (holds(bytes, 0, "GIF8")) return "a GIF picture";
  if (holds(bytes, 0, "BM")) return "a BMP picture";
  if (holds(bytes, 0, std::string_view("II*\0", 4)) || holds(bytes, 0, std::string_view("MM\0*", 4))) {
    return "a TIFF or raw picture";
  }
  if (holds(bytes, 0, "%PDF")) return "a PDF";
  if (holds(bytes, 4, "ftyp")) return "a film";
  return "";
}

}  // namespace

Result<PhotoFormat> photo_format(ByteView bytes, const std::string& file) {
  if (holds(bytes, 0, "\xFF\xD8\xFF")) return PhotoFormat::jpeg;
  if (holds(bytes, 0, "\x89PNG\r\n\x1A\n")) return PhotoFormat::png;
  if (is_heif(bytes)) return PhotoFormat::heic;
  const std::string other = other_kind(bytes);
  if (other.empty()) return Problem{file, "is not a picture; name JPEG, PNG or HEIC photos"};
  return Problem{file, fmt::format("is {}, which is not read; export the photo as JPEG", other)};
}

std::optional<std::string> refused_size(std::int64_t width, std::int64_t height, const CaptureSettings& settings) {
  if (width < settings.min_side || height < settings.min_side) {
    return fmt::format("has only {} x {} pixels; use the original photo", width, height);
  }
  const double megapixels = static_cast<double>(width) * static_cast<double>(height) / 1e6;
  if (megapixels > settings.max_megapixels) {
    return fmt::format("has {} x {} pixels ({:.0f} megapixels), more than the {:.0f} that are read; export it smaller",
                       width, height, std::ceil(megapixels), settings.max_megapixels);
  }
  return std::nullopt;
}

}  // namespace lotwear
