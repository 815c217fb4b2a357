#pragma once
// Photo files as phones and programs write them, made in memory: JPEG, PNG and HEIC bytes with EXIF and colour
// profiles. Header only, so that only the tests that make photos need the libraries (they come with lotwear_capture).

// jpeglib.h needs <cstdio> first.
// clang-format off
#include <cstdio>
#include <jpeglib.h>
// clang-format on

#include <lcms2.h>
#include <libheif/heif.h>
#include <png.h>

#include <array>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <exiv2/exiv2.hpp>
#include <map>
#include <opencv2/core.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#ifdef __SANITIZE_ADDRESS__
// The HEVC encoder that makes our test files (x265 3.5) forgets a kilobyte a picture; reading them does not use it.
extern "C" [[gnu::used]] inline const char* __lsan_default_suppressions() { return "leak:libx265"; }
#endif

namespace lotwear::test {

using FileBytes = std::vector<std::uint8_t>;

/// Exiv2 key -> value as text, for example {"Exif.Image.Orientation", "6"} or {"Exif.GPSInfo.GPSLatitude", "40/1 10/1
/// 12/1"}.
using ExifValues = std::map<std::string, std::string>;

/// The block from its TIFF header on.
inline FileBytes exif_bytes(const ExifValues& values) {
  Exiv2::ExifData data;
  for (const auto& [key, value] : values)
    data[key] = value;
  Exiv2::Blob blob;
  Exiv2::ExifParser::encode(blob, Exiv2::littleEndian, data);
  return {blob.begin(), blob.end()};
}

struct FileDetails {
  FileBytes exif;  ///< from the TIFF header on; empty: none
  FileBytes icc;   ///< empty: none
};

struct JpegDetails : FileDetails {
  int quality = 95;
  bool full_chroma = true;  ///< 4:4:4, else 4:2:0 as phones write it
  bool progressive = false;
  bool optimised = false;
  int restart_rows = 0;
  J_COLOR_SPACE colours = JCS_YCbCr;  ///< JCS_GRAYSCALE takes the green channel; JCS_CMYK makes a print file
};

/// `rgb`: CV_8UC3 R G B; CV_8UC4 for CMYK and YCCK; CV_8UC1 for grey.
inline FileBytes jpeg_bytes(const cv::Mat& rgb, const JpegDetails& details = {}) {
  jpeg_compress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_compress(&jpeg);
  unsigned char* data = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&jpeg, &data, &size);
  jpeg.image_width = static_cast<JDIMENSION>(rgb.cols);
  jpeg.image_height = static_cast<JDIMENSION>(rgb.rows);
  jpeg.input_components = rgb.channels();
  jpeg.in_color_space = rgb.channels() == 4 ? JCS_CMYK : rgb.channels() == 1 ? JCS_GRAYSCALE : JCS_RGB;
  jpeg_set_defaults(&jpeg);
  jpeg_set_colorspace(&jpeg, details.colours);
  jpeg_set_quality(&jpeg, details.quality, TRUE);
  if (details.full_chroma) jpeg.comp_info[0].h_samp_factor = jpeg.comp_info[0].v_samp_factor = 1;
  jpeg.restart_in_rows = details.restart_rows;
  jpeg.optimize_coding = details.optimised ? TRUE : FALSE;
  if (details.progressive) jpeg_simple_progression(&jpeg);
  jpeg_start_compress(&jpeg, TRUE);
  if (!details.exif.empty()) {
    FileBytes marker = {'E', 'x', 'i', 'f', 0, 0};
    marker.insert(marker.end(), details.exif.begin(), details.exif.end());
    jpeg_write_marker(&jpeg, JPEG_APP0 + 1, marker.data(), static_cast<unsigned>(marker.size()));
  }
  if (!details.icc.empty())
    jpeg_write_icc_profile(&jpeg, details.icc.data(), static_cast<unsigned>(details.icc.size()));
  for (int y = 0; y < rgb.rows; ++y) {
    JSAMPROW row = const_cast<JSAMPROW>(rgb.ptr(y));
    jpeg_write_scanlines(&jpeg, &row, 1);
  }
  jpeg_finish_compress(&jpeg);
  jpeg_destroy_compress(&jpeg);
  FileBytes bytes(data, data + size);
  std::free(data);
  return bytes;
}

struct PngDetails : FileDetails {
  int bits = 8;  ///< 1, 2, 4, 8 or 16; below 8 only for grey and palette
  int colour_type = PNG_COLOR_TYPE_RGB;
  bool interlaced = false;
  std::vector<png_color> palette;
  std::optional<double> gamma;                          ///< gAMA chunk: encoded = linear^gamma
  std::optional<std::array<double, 8>> chromaticities;  ///< cHRM chunk: white, red, green, blue, x and y each
};

/// `rows`: one vector a row, packed as PNG wants it (16 bit: high byte first).
inline FileBytes png_bytes(const std::vector<FileBytes>& rows, int width, const PngDetails& details = {}) {
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  FileBytes out;
  if (setjmp(png_jmpbuf(png)) != 0) throw std::runtime_error("libpng refuses this picture");
  png_set_write_fn(
      png, &out,
      [](png_structp writer, png_bytep data, std::size_t size) {
        auto& to = *static_cast<FileBytes*>(png_get_io_ptr(writer));
        to.insert(to.end(), data, data + size);
      },
      nullptr);
  png_set_IHDR(png, info, static_cast<png_uint_32>(width), static_cast<png_uint_32>(rows.size()), details.bits,
               details.colour_type, details.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
               PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  if (!details.palette.empty())
    png_set_PLTE(png, info, details.palette.data(), static_cast<int>(details.palette.size()));
  if (details.gamma) png_set_gAMA(png, info, *details.gamma);
  if (details.chromaticities) {
    const auto& c = *details.chromaticities;
    png_set_cHRM(png, info, c[0], c[1], c[2], c[3], c[4], c[5], c[6], c[7]);
  }
  if (!details.icc.empty()) {
    png_set_iCCP(png, info, "profile", PNG_COMPRESSION_TYPE_BASE, details.icc.data(),
                 static_cast<png_uint_32>(details.icc.size()));
  }
  FileBytes exif = details.exif;
  if (!exif.empty()) png_set_eXIf_1(png, info, static_cast<png_uint_32>(exif.size()), exif.data());
  std::vector<FileBytes> copy = rows;
  std::vector<png_bytep> pointers;
  for (FileBytes& row : copy)
    pointers.push_back(row.data());
  png_set_rows(png, info, pointers.data());
  png_write_png(png, info, PNG_TRANSFORM_IDENTITY, nullptr);
  png_destroy_write_struct(&png, &info);
  return out;
}

/// 8-bit RGB picture as PNG.
inline FileBytes png_bytes(const cv::Mat& rgb, const PngDetails& details = {}) {
  std::vector<FileBytes> rows;
  for (int y = 0; y < rgb.rows; ++y)
    rows.emplace_back(rgb.ptr(y), rgb.ptr(y) + 3 * rgb.cols);
  return png_bytes(rows, rgb.cols, details);
}

/// Nothing when this libheif cannot encode HEVC.
inline std::optional<FileBytes> heic_bytes(const cv::Mat& rgb, const FileDetails& details = {}, int quality = 90,
                                           const heif_color_profile_nclx* nclx = nullptr) {
  if (heif_have_encoder_for_format(heif_compression_HEVC) == 0) return std::nullopt;
  const auto check = [](heif_error error) {
    if (error.code != heif_error_Ok) throw std::runtime_error(error.message);
  };
  heif_context* context = heif_context_alloc();
  heif_encoder* encoder = nullptr;
  check(heif_context_get_encoder_for_format(context, heif_compression_HEVC, &encoder));
  check(heif_encoder_set_lossy_quality(encoder, quality));
  heif_image* image = nullptr;
  check(heif_image_create(rgb.cols, rgb.rows, heif_colorspace_RGB, heif_chroma_interleaved_RGB, &image));
  check(heif_image_add_plane(image, heif_channel_interleaved, rgb.cols, rgb.rows, 8));
  int stride = 0;
  std::uint8_t* plane = heif_image_get_plane(image, heif_channel_interleaved, &stride);
  for (int y = 0; y < rgb.rows; ++y) {
    std::memcpy(plane + std::ptrdiff_t{stride} * y, rgb.ptr(y), 3 * static_cast<std::size_t>(rgb.cols));
  }
  if (!details.icc.empty())
    check(heif_image_set_raw_color_profile(image, "prof", details.icc.data(), details.icc.size()));
  if (nclx != nullptr) check(heif_image_set_nclx_color_profile(image, nclx));
  heif_encoding_options* options = heif_encoding_options_alloc();
  options->save_two_colr_boxes_when_ICC_and_nclx_available = 1;
  options->macOS_compatibility_workaround_no_nclx_profile = nclx == nullptr ? 1 : 0;
  options->output_nclx_profile = const_cast<heif_color_profile_nclx*>(nclx);
  heif_image_handle* handle = nullptr;
  check(heif_context_encode_image(context, image, encoder, options, &handle));
  if (!details.exif.empty()) {
    check(heif_context_add_exif_metadata(context, handle, details.exif.data(), static_cast<int>(details.exif.size())));
  }
  FileBytes out;
  heif_writer writer{};
  writer.writer_api_version = 1;
  writer.write = [](heif_context*, const void* data, std::size_t size, void* to) {
    const auto* bytes = static_cast<const std::uint8_t*>(data);
    static_cast<FileBytes*>(to)->assign(bytes, bytes + size);
    return heif_error{heif_error_Ok, heif_suberror_Unspecified, "ok"};
  };
  check(heif_context_write(context, &writer, &out));
  heif_image_handle_release(handle);
  heif_encoding_options_free(options);
  heif_image_release(image);
  heif_encoder_release(encoder);
  heif_context_free(context);
  return out;
}

/// x and y of white, red, green, blue; `gamma` nothing: the sRGB curve (IEC 61966-2-1).
inline FileBytes icc_bytes(const std::array<double, 8>& xy, std::optional<double> gamma = {},
                           const std::string& name = "") {
  const cmsCIExyY white{xy[0], xy[1], 1};
  const cmsCIExyYTRIPLE corners{{xy[2], xy[3], 1}, {xy[4], xy[5], 1}, {xy[6], xy[7], 1}};
  const std::array<double, 5> srgb = {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
  cmsToneCurve* curve = gamma ? cmsBuildGamma(nullptr, *gamma) : cmsBuildParametricToneCurve(nullptr, 4, srgb.data());
  const std::array<cmsToneCurve*, 3> curves = {curve, curve, curve};
  cmsHPROFILE profile = cmsCreateRGBProfile(&white, &corners, curves.data());
  if (!name.empty()) {
    cmsMLU* text = cmsMLUalloc(nullptr, 1);
    cmsMLUsetASCII(text, "en", "US", name.c_str());
    cmsWriteTag(profile, cmsSigProfileDescriptionTag, text);
    cmsMLUfree(text);
  }
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  FileBytes bytes(size);
  cmsSaveProfileToMem(profile, bytes.data(), &size);
  cmsCloseProfile(profile);
  cmsFreeToneCurve(curve);
  return bytes;
}
// From memory: SMPTE RP 431-2 with D65, Adobe RGB (1998), IEC 61966-2-1.
inline FileBytes display_p3_icc() {
  return icc_bytes({0.3127, 0.3290, 0.680, 0.320, 0.265, 0.690, 0.150, 0.060}, {}, "Display P3");
}
inline FileBytes adobe_rgb_icc() {
  return icc_bytes({0.3127, 0.3290, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06}, 563.0 / 256, "Adobe RGB (1998)");
}
inline FileBytes srgb_icc() { return icc_bytes({0.3127, 0.3290, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06}, {}, "sRGB"); }

}  // namespace lotwear::test
