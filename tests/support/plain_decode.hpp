#pragma once
// The least that reading a JPEG can cost: libjpeg-turbo as it is, into RGB rows. What speed is measured against.

// jpeglib.h needs <cstdio> first.
// clang-format off
#include <cstdio>
#include <jpeglib.h>
// clang-format on

#include <opencv2/core/mat.hpp>
#include <span>

namespace lotwear::test {

inline void plain_decode(std::span<const unsigned char> bytes, cv::Mat& rgb) {
  jpeg_decompress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&jpeg);
  jpeg_mem_src(&jpeg, bytes.data(), bytes.size());
  jpeg_read_header(&jpeg, TRUE);
  jpeg_start_decompress(&jpeg);
  rgb.create(static_cast<int>(jpeg.output_height), static_cast<int>(jpeg.output_width), CV_8UC3);
  while (jpeg.output_scanline < jpeg.output_height) {
    JSAMPROW row = rgb.ptr(static_cast<int>(jpeg.output_scanline));
    jpeg_read_scanlines(&jpeg, &row, 1);
  }
  jpeg_finish_decompress(&jpeg);
  jpeg_destroy_decompress(&jpeg);
}

}  // namespace lotwear::test
