// jpeglib.h needs <cstdio> first, jerror.h needs jpeglib.h.
// clang-format off
#include <cstdio>
#include <jpeglib.h>
#include <jerror.h>
// clang-format on

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <csetjmp>
#include <cstdlib>

#include "capture/decode.hpp"
#include "capture/orientation.hpp"

namespace lotwear {
namespace {

constexpr int kExifMarker = JPEG_APP0 + 1, kIccMarker = JPEG_APP0 + 2;
constexpr double kGarbled = 0.01;  // share of the file: more left over than any padding, so blocks were lost on the way
constexpr int kMostScans = 100;    // a progressive JPEG has about ten; thousands are an attack on our time
constexpr long kStrayBytes = 16;   // some cameras pad the end of the data by a few

/// libjpeg's errors jump; its warnings are counted, because a torn JPEG only warns and fills the rest with grey.
struct Trouble {
  jpeg_error_mgr base{};  // first: libjpeg only knows this part
  jmp_buf back{};
  std::array<char, JMSG_LENGTH_MAX> message{};
  bool damaged = false;
  bool ended_early = false;
  bool torn_icc = false;
  unsigned damaged_at_row = 0;
  long stray_bytes = 0;
};

Trouble& trouble_of(j_common_ptr info) { return *reinterpret_cast<Trouble*>(info->err); }

[[noreturn]] void jump_back(j_common_ptr info) {
  Trouble& trouble = trouble_of(info);
  info->err->format_message(info, trouble.message.data());
  std::longjmp(trouble.back, 1);
}

void note_warning(j_common_ptr info, int level) {
  if (level >= 0) return;  // traces
  Trouble& trouble = trouble_of(info);
  switch (info->err->msg_code) {
    case JWRN_JPEG_EOF:
      // Only the end mark may be missing; when picture data are, the Huffman decoder says so itself.
      trouble.ended_early = true;
      break;
    case JWRN_EXTRANEOUS_DATA:
      trouble.stray_bytes += info->err->msg_parm.i[0];
      break;
    case JWRN_BOGUS_ICC:
      trouble.torn_icc = true;
      break;
    case JWRN_ADOBE_XFORM:
    case JWRN_BOGUS_PROGRESSION:
    case JWRN_JFIF_MAJOR:
    case JWRN_NOT_SEQUENTIAL:
    case JWRN_TOO_MUCH_DATA:
      break;  // odd version numbers and the like: every program reads such files
    default:
      if (!trouble.damaged && info->is_decompressor) {
        trouble.damaged_at_row = reinterpret_cast<j_decompress_ptr>(info)->output_scanline;
      }
      trouble.damaged = true;
      break;
  }
}

void count_scans(j_common_ptr info) {
  const auto* jpeg = reinterpret_cast<j_decompress_ptr>(info);
  if (jpeg->input_scan_number <= kMostScans) return;
  Trouble& trouble = trouble_of(info);
  std::snprintf(trouble.message.data(), trouble.message.size(), "more than %d scans", kMostScans);
  std::longjmp(trouble.back, 1);
}

/// Each member that calls libjpeg sets its own way back and holds nothing that would need destroying when it jumps.
class JpegReader {
 public:
  JpegReader() {
    jpeg_.err = jpeg_std_error(&trouble_.base);
    trouble_.base.error_exit = jump_back;
    trouble_.base.emit_message = note_warning;
    progress_.progress_monitor = count_scans;
    if (setjmp(trouble_.back) != 0) return;
    jpeg_create_decompress(&jpeg_);
    jpeg_.progress = &progress_;
  }
  JpegReader(const JpegReader&) = delete;
  JpegReader& operator=(const JpegReader&) = delete;
  ~JpegReader() { jpeg_destroy_decompress(&jpeg_); }

  bool read_header(ByteView bytes) {
    if (setjmp(trouble_.back) != 0) return false;
    jpeg_save_markers(&jpeg_, kExifMarker, 0xFFFF);
    jpeg_save_markers(&jpeg_, kIccMarker, 0xFFFF);
    jpeg_mem_src(&jpeg_, bytes.data(), bytes.size());
    return jpeg_read_header(&jpeg_, TRUE) == JPEG_HEADER_OK;
  }

  bool start() {
    if (setjmp(trouble_.back) != 0) return false;
    jpeg_.out_color_space = JCS_RGB;
    jpeg_start_decompress(&jpeg_);
    return true;
  }

  /// Rows straight into `upright`, or through `band` when they have to be turned.
  bool read_rows(int orientation, cv::Mat& band, cv::Mat& upright) {
    if (setjmp(trouble_.back) != 0) return false;
    const cv::Size stored(static_cast<int>(jpeg_.output_width), static_cast<int>(jpeg_.output_height));
    std::array<JSAMPROW, kBandRows> rows{};
    while (jpeg_.output_scanline < jpeg_.output_height && !trouble_.damaged) {
      const auto first = static_cast<int>(jpeg_.output_scanline);
      const int count = std::min(kBandRows, stored.height - first);
      for (int row = 0; row < count; ++row) {
        rows[static_cast<std::size_t>(row)] = orientation == 1 ? upright.ptr(first + row) : band.ptr(row);
      }
      int done = 0;
      while (done < count) {
        done +=
            static_cast<int>(jpeg_read_scanlines(&jpeg_, rows.data() + done, static_cast<JDIMENSION>(count - done)));
      }
      if (orientation != 1) place_rows(band.data, band.step[0], first, count, stored, orientation, upright);
    }
    return true;
  }

  /// Reads on to the end mark, which tells stray bytes; all rows are there, so nothing that happens here is damage.
  void finish() {
    if (setjmp(trouble_.back) != 0) return;
    jpeg_finish_decompress(&jpeg_);
  }

  bool read_icc(Bytes& icc) {
    JOCTET* data = nullptr;
    unsigned length = 0;
    if (!take_icc(&data, &length)) return false;
    if (data != nullptr) icc.assign(data, data + length);
    std::free(data);
    return true;
  }

  ByteView exif() const {
    constexpr std::array<std::uint8_t, 6> kName = {'E', 'x', 'i', 'f', 0, 0};
    for (const jpeg_marker_struct* marker = jpeg_.marker_list; marker != nullptr; marker = marker->next) {
      const ByteView data(marker->data, marker->data_length);
      if (marker->marker == kExifMarker && data.size() > kName.size() &&
          std::equal(kName.begin(), kName.end(), data.begin())) {
        return data.subspan(kName.size());
      }
    }
    return {};
  }

  bool is_damaged() const {
    // Whole scans may be missing without another word, and the arithmetic decoder takes missing data for zeros.
    const bool needs_end_mark =
        jpeg_.progressive_mode != 0 || jpeg_.comps_in_scan < jpeg_.num_components || jpeg_.arith_code != 0;
    return trouble_.damaged || (trouble_.ended_early && needs_end_mark);
  }
  const jpeg_decompress_struct& jpeg() const { return jpeg_; }
  const Trouble& trouble() const { return trouble_; }
  static constexpr int kBandRows = 32;  // two rows of the largest usual blocks; a band of a phone photo fits the cache

 private:
  bool take_icc(JOCTET** data, unsigned* length) {
    if (setjmp(trouble_.back) != 0) return false;
    jpeg_read_icc_profile(&jpeg_, data, length);
    return true;
  }

  Trouble trouble_;
  jpeg_progress_mgr progress_{};
  jpeg_decompress_struct jpeg_{};
};

std::optional<std::string> refused_colours(const jpeg_decompress_struct& jpeg) {
  switch (jpeg.jpeg_color_space) {
    case JCS_GRAYSCALE:
    case JCS_RGB:
    case JCS_YCbCr:
      return std::nullopt;
    case JCS_CMYK:
    case JCS_YCCK:
      return "is a CMYK JPEG made for printing; export it as RGB or use the original photo";
    default:
      return fmt::format("is a JPEG with {} colour channels, which is not read; export it as RGB", jpeg.num_components);
  }
}

std::string torn(const JpegReader& reader) {
  const jpeg_decompress_struct& jpeg = reader.jpeg();
  if (jpeg.output_height == 0 || reader.trouble().damaged_at_row == 0) {
    return "torn file: the picture data are damaged or end too early; copy it from the phone again";
  }
  return fmt::format("torn file: only {:.0f} % of the picture can be read; copy it from the phone again",
                     100.0 * reader.trouble().damaged_at_row / jpeg.output_height);
}

}  // namespace

Result<Decoded> decode_jpeg(ByteView bytes, const std::string& file, const CaptureSettings& settings) {
  JpegReader reader;
  const auto broken = [&] {
    return Problem{file,
                   fmt::format("damaged JPEG ({}); copy it from the phone again", reader.trouble().message.data())};
  };
  if (!reader.read_header(bytes)) return broken();
  if (reader.is_damaged()) return Problem{file, torn(reader)};
  const cv::Size stored(static_cast<int>(reader.jpeg().image_width), static_cast<int>(reader.jpeg().image_height));
  if (const auto refused = refused_size(stored.width, stored.height, settings)) return Problem{file, *refused};
  if (const auto refused = refused_colours(reader.jpeg())) return Problem{file, *refused};

  Decoded decoded;
  decoded.stored = stored;
  decoded.grey_file = reader.jpeg().jpeg_color_space == JCS_GRAYSCALE;
  decoded.exif = read_exif(reader.exif());
  if (!reader.read_icc(decoded.colour.icc)) return broken();
  decoded.colour.torn_icc = reader.trouble().torn_icc;

  // A progressive JPEG is read whole here, so damage shows before the picture is allocated.
  if (!reader.start()) return broken();
  if (reader.is_damaged()) return Problem{file, torn(reader)};
  const int orientation = decoded.exif.orientation;
  decoded.rgb.create(upright_size(stored, orientation), CV_8UC3);
  cv::Mat band;
  if (orientation != 1) band.create(JpegReader::kBandRows, stored.width, CV_8UC3);
  if (!reader.read_rows(orientation, band, decoded.rgb)) return broken();
  if (reader.is_damaged()) return Problem{file, torn(reader)};
  reader.finish();
  const auto stray = static_cast<double>(reader.trouble().stray_bytes);
  if (stray > kGarbled * static_cast<double>(bytes.size())) {
    return Problem{file, "torn file: the picture data are garbled in the middle; copy it from the phone again"};
  }
  if (reader.trouble().stray_bytes > kStrayBytes) {
    decoded.advice.push_back("the file has stray bytes in the picture data; look for shifted or discoloured parts");
  }
  return decoded;
}

}  // namespace lotwear
