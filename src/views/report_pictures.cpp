#include "views/report_pictures.hpp"

#include <algorithm>
#include <optional>
#include <string_view>

#include "base/files.hpp"
#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr std::size_t kMostBytes = std::size_t{8} << 20;  // a picture of ours is below 0.5 MB
constexpr int kMostSide = 20000;

struct Kinded {
  const char* media_type = "";
  int width = 0, height = 0;
};

unsigned at(std::string_view bytes, std::size_t i) { return static_cast<unsigned char>(bytes[i]); }
int word16(std::string_view bytes, std::size_t i) { return static_cast<int>(at(bytes, i) << 8U | at(bytes, i + 1)); }

/// PNG specification (ISO/IEC 15948): signature, then IHDR with width and height.
std::optional<Kinded> png_size(std::string_view bytes) {
  constexpr std::string_view signature("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16);
  if (bytes.size() < 24 || bytes.substr(0, 16) != signature) return std::nullopt;
  const int width = word16(bytes, 16) << 16 | word16(bytes, 18), height = word16(bytes, 20) << 16 | word16(bytes, 22);
  return Kinded{"image/png", width, height};
}

/// JPEG (ITU-T T.81): segments up to the start of a frame, which holds height and width.
std::optional<Kinded> jpeg_size(std::string_view bytes) {
  if (bytes.size() < 4 || at(bytes, 0) != 0xFF || at(bytes, 1) != 0xD8) return std::nullopt;
  std::size_t i = 2;
  while (i + 9 < bytes.size()) {
    if (at(bytes, i) != 0xFF) return std::nullopt;
    const unsigned marker = at(bytes, i + 1);
    const bool frame = marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
    if (frame) return Kinded{"image/jpeg", word16(bytes, i + 7), word16(bytes, i + 5)};
    const int length = word16(bytes, i + 2);
    if (marker == 0xDA || length < 2) return std::nullopt;
    i += 2 + static_cast<std::size_t>(length);
  }
  return std::nullopt;
}

bool stays_inside(const std::filesystem::path& folder, const std::filesystem::path& named) {
  if (named.is_absolute() || std::find(named.begin(), named.end(), "..") != named.end()) return false;
  std::error_code error;
  const auto home = std::filesystem::weakly_canonical(folder, error);
  if (error) return false;
  const auto file = std::filesystem::weakly_canonical(folder / named, error);  // a link could lead out
  if (error) return false;
  return std::mismatch(home.begin(), home.end(), file.begin(), file.end()).first == home.end();
}

}  // namespace

ReportPicture read_picture(const std::filesystem::path& folder, const std::string& named) {
  ReportPicture picture;
  if (named.empty()) {
    picture.missing = "no picture was kept";
    return picture;
  }
  if (!stays_inside(folder, named)) {
    picture.missing = named + " lies outside the survey folder and was left out";
    return picture;
  }
  std::string bytes;
  try {
    bytes = read_file(folder / named, kMostBytes);
  } catch (const Failure&) {
    picture.missing = named + " is missing or cannot be read";
    return picture;
  }
  std::optional<Kinded> kinded = png_size(bytes);
  if (!kinded) kinded = jpeg_size(bytes);
  if (!kinded || kinded->width < 1 || kinded->height < 1 || kinded->width > kMostSide || kinded->height > kMostSide) {
    picture.missing = named + " is not a picture";
    return picture;
  }
  picture.bytes = std::move(bytes);
  picture.media_type = kinded->media_type;
  picture.width = kinded->width;
  picture.height = kinded->height;
  return picture;
}

}  // namespace lotwear
