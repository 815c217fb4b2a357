#include <fmt/format.h>
#include <libheif/heif.h>

#include <algorithm>
#include <cstring>
#include <memory>
#include <mutex>

#include "capture/decode.hpp"

namespace lotwear {
namespace {

struct FreeContext {
  void operator()(heif_context* context) const { heif_context_free(context); }
};
struct FreeHandle {
  void operator()(const heif_image_handle* handle) const { heif_image_handle_release(handle); }
};
struct FreeImage {
  void operator()(const heif_image* image) const { heif_image_release(image); }
};
struct FreeOptions {
  void operator()(heif_decoding_options* options) const { heif_decoding_options_free(options); }
};
struct FreeNclx {
  void operator()(heif_color_profile_nclx* nclx) const { heif_nclx_color_profile_free(nclx); }
};

void wake_libheif() {
  static std::once_flag once;
  std::call_once(once, [] { heif_init(nullptr); });
}

Problem damaged(const std::string& file, const heif_error& error) {
  std::string why = error.message == nullptr ? "" : error.message;
  why.resize(std::min(why.size(), why.find_first_of("\r\n")));  // a problem is one line
  return {file, fmt::format("torn or damaged HEIC ({}); copy it from the phone again, or export it as JPEG", why)};
}

/// HEIF keeps EXIF with four bytes in front that say how far the TIFF header is (ISO/IEC 23008-12, annex A).
ByteView tiff_part(const Bytes& block) {
  if (block.size() < 8) return {};
  const std::size_t skip =
      (std::size_t{block[0]} << 24) + (std::size_t{block[1]} << 16) + (std::size_t{block[2]} << 8) + block[3];
  if (skip >= block.size() - 4) return {};
  return ByteView(block).subspan(4 + skip);
}

Bytes exif_block(const heif_image_handle* handle) {
  heif_item_id id = 0;
  if (heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) != 1) return {};
  Bytes block(heif_image_handle_get_metadata_size(handle, id));
  if (block.empty() || heif_image_handle_get_metadata(handle, id, block.data()).code != heif_error_Ok) return {};
  return block;
}

/// Code points of ITU-T H.273.
ColourClaim colour_claim(const heif_image_handle* handle) {
  ColourClaim claim;
  const std::size_t size = heif_image_handle_get_raw_color_profile_size(handle);
  if (size > 0) {
    claim.icc.resize(size);
    claim.torn_icc = heif_image_handle_get_raw_color_profile(handle, claim.icc.data()).code != heif_error_Ok;
    return claim;
  }
  heif_color_profile_nclx* raw = nullptr;
  if (heif_image_handle_get_nclx_color_profile(handle, &raw).code != heif_error_Ok || raw == nullptr) return claim;
  const std::unique_ptr<heif_color_profile_nclx, FreeNclx> nclx(raw);
  if (nclx->color_primaries == heif_color_primaries_SMPTE_EG_432_1) claim.primaries = kDisplayP3Primaries;
  if (nclx->color_primaries == heif_color_primaries_ITU_R_BT_2020_2_and_2100_0) claim.primaries = kBt2020Primaries;
  switch (nclx->transfer_characteristics) {
    case heif_transfer_characteristic_ITU_R_BT_470_6_System_M:
      claim.gamma = 2.2;
      break;
    case heif_transfer_characteristic_ITU_R_BT_470_6_System_B_G:
      claim.gamma = 2.8;
      break;
    case heif_transfer_characteristic_linear:
      claim.gamma = 1;
      break;
    case heif_transfer_characteristic_ITU_R_BT_2100_0_PQ:
    case heif_transfer_characteristic_ITU_R_BT_2100_0_HLG:
      claim.high_dynamic_range = true;
      break;
    default:  // sRGB itself, and the BT.709 family, whose stills are made for sRGB screens
      break;
  }
  return claim;
}

}  // namespace

Result<Decoded> decode_heic(ByteView bytes, const std::string& file, const CaptureSettings& settings) {
  wake_libheif();
  const std::unique_ptr<heif_context, FreeContext> context(heif_context_alloc());
  heif_context_set_max_decoding_threads(context.get(), 0);  // photos are read side by side already
  heif_error error = heif_context_read_from_memory_without_copy(context.get(), bytes.data(), bytes.size(), nullptr);
  if (error.code != heif_error_Ok) return damaged(file, error);
  heif_image_handle* raw_handle = nullptr;
  error = heif_context_get_primary_image_handle(context.get(), &raw_handle);
  if (error.code != heif_error_Ok) return damaged(file, error);
  const std::unique_ptr<const heif_image_handle, FreeHandle> handle(raw_handle);

  Decoded decoded;
  decoded.stored = cv::Size(heif_image_handle_get_width(handle.get()), heif_image_handle_get_height(handle.get()));
  if (const auto refused = refused_size(decoded.stored.width, decoded.stored.height, settings))
    return Problem{file, *refused};
  const Bytes exif = exif_block(handle.get());
  decoded.exif = read_exif(tiff_part(exif));
  decoded.colour = colour_claim(handle.get());

  const std::unique_ptr<heif_decoding_options, FreeOptions> options(heif_decoding_options_alloc());
  options->convert_hdr_to_8bit = 1;
  options->strict_decoding = 1;
  heif_image* raw_image = nullptr;
  error = heif_decode_image(handle.get(), &raw_image, heif_colorspace_RGB, heif_chroma_interleaved_RGB, options.get());
  if (error.code != heif_error_Ok) return damaged(file, error);
  const std::unique_ptr<const heif_image, FreeImage> image(raw_image);
  int stride = 0;
  const std::uint8_t* pixels = heif_image_get_plane_readonly(image.get(), heif_channel_interleaved, &stride);
  const int width = heif_image_get_width(image.get(), heif_channel_interleaved);
  const int height = heif_image_get_height(image.get(), heif_channel_interleaved);
  if (pixels == nullptr || width < 1 || height < 1)
    return Problem{file, "the HEIC holds no picture; export it as JPEG"};
  // libheif has turned the picture as the file says; EXIF's orientation repeats that and must not be applied twice.
  decoded.stored = cv::Size(width, height);
  decoded.rgb.create(decoded.stored, CV_8UC3);
  for (int y = 0; y < height; ++y) {
    std::memcpy(decoded.rgb.ptr(y), pixels + std::ptrdiff_t{stride} * y, 3 * static_cast<std::size_t>(width));
  }
  return decoded;
}

}  // namespace lotwear
