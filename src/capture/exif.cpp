#include "capture/exif.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <exiv2/exiv2.hpp>
#include <mutex>

namespace lotwear {
namespace {

void lock_xmp(void* guard, bool lock) {
  auto& mutex = *static_cast<std::mutex*>(guard);
  lock ? mutex.lock() : mutex.unlock();
}

/// An EXIF block may hold an XMP packet, and exiv2's XMP parser is not safe on first use from several threads.
void wake_exiv2() {
  static std::once_flag once;
  static std::mutex xmp_guard;
  std::call_once(once, [] {
    Exiv2::LogMsg::setLevel(Exiv2::LogMsg::mute);  // it writes to stderr, which is ours for problems and progress
    Exiv2::XmpParser::initialize(lock_xmp, &xmp_guard);
  });
}

/// The tag's datum, nullptr when absent or empty.
const Exiv2::Exifdatum* find(const Exiv2::ExifData& data, const char* tag) {
  const auto found = data.findKey(Exiv2::ExifKey(tag));
  return found == data.end() || found->count() == 0 ? nullptr : &*found;
}

std::optional<double> number(const Exiv2::ExifData& data, const char* tag, long at = 0) {
  const Exiv2::Exifdatum* datum = find(data, tag);
  if (datum == nullptr || at >= datum->count()) return std::nullopt;
  const Exiv2::Rational ratio = datum->toRational(at);
  if (ratio.second == 0) return std::nullopt;
  // Unsigned rationals come through this signed type; anything that wrapped is far outside every range below.
  return static_cast<double>(ratio.first) / static_cast<double>(ratio.second);
}

/// Printable ASCII only: the text goes into JSON and HTML, and old cameras write Latin-1 or padding.
std::string text(const Exiv2::ExifData& data, const char* tag) {
  const Exiv2::Exifdatum* datum = find(data, tag);
  if (datum == nullptr || datum->size() > 1024) return {};
  std::string out = datum->toString();
  out.resize(std::min(out.size(), out.find('\0')));
  std::replace_if(
      out.begin(), out.end(), [](char c) { return c < ' ' || c > '~'; }, ' ');
  const auto first = out.find_first_not_of(' ');
  if (first == std::string::npos) return {};
  return out.substr(first, out.find_last_not_of(' ') - first + 1);
}

bool matches(const std::string& value, std::string_view pattern) {
  return value.size() == pattern.size() && std::equal(value.begin(), value.end(), pattern.begin(), [](char c, char p) {
           return p == '#' ? c >= '0' && c <= '9' : c == p;
         });
}

int digits(const std::string& value, std::size_t at, std::size_t count) {
  return std::atoi(value.substr(at, count).c_str());
}

/// EXIF "2026:04:11 09:02:00" -> ISO 8601; nothing for blanks, zeros and impossible days.
std::optional<std::string> iso_time(const std::string& exif, const std::string& offset) {
  if (!matches(exif, "####:##:## ##:##:##")) return std::nullopt;
  const int year = digits(exif, 0, 4), month = digits(exif, 5, 2), day = digits(exif, 8, 2);
  const int hour = digits(exif, 11, 2), minute = digits(exif, 14, 2), second = digits(exif, 17, 2);
  constexpr std::array<int, 12> kDays = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  if (year < 1970 || month < 1 || month > 12 || day < 1 || hour > 23 || minute > 59 || second > 60) return std::nullopt;
  if (day > kDays[static_cast<std::size_t>(month - 1)] + (leap && month == 2 ? 1 : 0)) return std::nullopt;
  const bool known_offset = (matches(offset, "+##:##") || matches(offset, "-##:##")) && digits(offset, 1, 2) <= 14 &&
                            digits(offset, 4, 2) <= 59;
  return fmt::format("{}-{}-{}T{}{}", exif.substr(0, 4), exif.substr(5, 2), exif.substr(8, 2), exif.substr(11),
                     known_offset ? offset : "");
}

/// Degrees, minutes, seconds; each part may be missing or hold a fraction.
std::optional<double> degrees(const Exiv2::ExifData& data, const char* tag) {
  const std::optional<double> whole = number(data, tag);
  if (!whole) return std::nullopt;
  return *whole + number(data, tag, 1).value_or(0) / 60 + number(data, tag, 2).value_or(0) / 3600;
}

void read_position(const Exiv2::ExifData& data, ExifFacts& facts) {
  const std::optional<double> north = degrees(data, "Exif.GPSInfo.GPSLatitude");
  const std::optional<double> east = degrees(data, "Exif.GPSInfo.GPSLongitude");
  if (!north || !east) return;
  const double lat = text(data, "Exif.GPSInfo.GPSLatitudeRef") == "S" ? -*north : *north;
  const double lon = text(data, "Exif.GPSInfo.GPSLongitudeRef") == "W" ? -*east : *east;
  if (lat == 0 && lon == 0) return;  // what phones write before they know
  if (*north < 0 || *east < 0 || std::abs(lat) > 90 || std::abs(lon) > 180) {
    facts.advice.push_back("the position that the camera wrote does not exist on earth and is left out");
    return;
  }
  Position position{lat, lon, {}};
  const std::optional<double> error = number(data, "Exif.GPSInfo.GPSHPositioningError");
  if (error && *error > 0 && *error < 100'000) position.error_m = *error;  // metres, EXIF 2.32 tag 0x001F
  facts.position = position;
}

void read_lens(const Exiv2::ExifData& data, ExifFacts& facts) {
  const std::optional<double> equivalent = number(data, "Exif.Photo.FocalLengthIn35mmFilm");
  if (equivalent && *equivalent > 0) facts.focal_35mm = equivalent;
  const std::optional<double> focal = number(data, "Exif.Photo.FocalLength");
  if (focal && *focal > 0) facts.focal_mm = focal;
  // EXIF 2.32 tag 0xA210: 2 inch (also when absent), 3 centimetre; 4 and 5 are common extensions.
  constexpr std::array<double, 6> kUnitMm = {0, 0, 25.4, 10, 1, 0.001};
  const double unit = number(data, "Exif.Photo.FocalPlaneResolutionUnit").value_or(2);
  const std::optional<double> resolution = number(data, "Exif.Photo.FocalPlaneXResolution");
  if (resolution && *resolution > 0 && (unit == 2 || unit == 3 || unit == 4 || unit == 5)) {
    facts.sensor_px_per_mm = *resolution / kUnitMm[static_cast<std::size_t>(unit)];
  }
  const double wide = number(data, "Exif.Photo.PixelXDimension").value_or(0);
  const double high = number(data, "Exif.Photo.PixelYDimension").value_or(0);
  if (wide >= 1 && high >= 1 && wide <= 100'000 && high <= 100'000) {
    facts.pixels = cv::Size(static_cast<int>(wide), static_cast<int>(high));
  }
}

void read_facts(const Exiv2::ExifData& data, ExifFacts& facts) {
  const double orientation = number(data, "Exif.Image.Orientation").value_or(1);
  if (orientation >= 1 && orientation <= 8) {
    facts.orientation = static_cast<int>(orientation);
  } else if (orientation != 0) {  // 0 is written for "unknown"
    facts.advice.push_back("the orientation that the camera wrote does not exist; the picture is taken as upright");
  }
  std::string offset = text(data, "Exif.Photo.OffsetTimeOriginal");
  if (offset.empty()) offset = text(data, "Exif.Photo.OffsetTime");
  // Exif.Image.DateTime is when the file was last changed: no evidence of when the photo was taken.
  facts.taken = iso_time(text(data, "Exif.Photo.DateTimeOriginal"), offset);
  if (!facts.taken) facts.taken = iso_time(text(data, "Exif.Photo.DateTimeDigitized"), offset);
  read_position(data, facts);
  read_lens(data, facts);
  const std::string make = text(data, "Exif.Image.Make"), model = text(data, "Exif.Image.Model");
  facts.camera = make.empty() || model.starts_with(make) ? model : model.empty() ? make : make + " " + model;
  facts.adobe_rgb = text(data, "Exif.Iop.InteroperabilityIndex") == "R03";
}

}  // namespace

ExifFacts read_exif(ByteView tiff) {
  ExifFacts facts;
  if (tiff.empty()) return facts;
  wake_exiv2();
  try {
    Exiv2::ExifData data;
    Exiv2::ExifParser::decode(data, tiff.data(), static_cast<std::uint32_t>(tiff.size()));
    read_facts(data, facts);
  } catch (const std::exception&) {
    facts = {};
    facts.advice.push_back("what the camera wrote about time, place and lens cannot be read");
  }
  return facts;
}

std::optional<double> focal_in_pixels(const ExifFacts& exif, cv::Size stored) {
  const auto diagonal = [](cv::Size size) { return std::hypot(size.width, size.height); };
  const auto shape = [](cv::Size size) {
    return static_cast<double>(std::max(size.width, size.height)) / std::min(size.width, size.height);
  };
  // Another shape than the camera's own means that the picture was cropped later: lengths in pixels stayed, the
  // diagonal did not. The same shape means that it was scaled as a whole, or not at all.
  const bool cropped = !exif.pixels.empty() && std::abs(shape(exif.pixels) / shape(stored) - 1) > 0.01 &&
                       diagonal(exif.pixels) > diagonal(stored);
  const cv::Size whole = cropped ? exif.pixels : stored;
  std::optional<double> focal;
  if (exif.focal_35mm) {
    focal = *exif.focal_35mm * diagonal(whole) /
            std::hypot(36.0, 24.0);  // by the diagonal, as CIPA DCG-001 has it (from memory)
  } else if (exif.focal_mm && exif.sensor_px_per_mm) {
    const double scaled = exif.pixels.empty() ? 1.0 : diagonal(whole) / diagonal(exif.pixels);
    focal = *exif.focal_mm * *exif.sensor_px_per_mm * scaled;
  }
  // 8 mm to 800 mm in 35 mm terms: beyond that the value is a lie, not a lens that photographs pavement.
  if (!focal || *focal < 0.18 * diagonal(stored) || *focal > 18.5 * diagonal(stored)) return std::nullopt;
  return focal;
}

}  // namespace lotwear
