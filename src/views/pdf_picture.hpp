#pragma once
// An evidence picture as the PDF carries it: no more pixels than print needs, photos as JPEG.

#include <cairo.h>

#include <string>
#include <vector>

#include "views/report_content.hpp"

namespace lotwear {

struct PrintPicture {
  int width = 0, height = 0;       ///< 0: the bytes are no picture
  std::string jpeg;                ///< empty: `rgb` holds the pixels
  std::vector<unsigned char> rgb;  ///< CAIRO_FORMAT_RGB24 rows without padding
};

/// For a box of `w` x `h` points. Same picture, same bytes.
PrintPicture print_picture(const ReportPicture& picture, double w, double h);

/// A surface that Cairo embeds as it is; destroy it.
cairo_surface_t* print_surface(const PrintPicture& picture);

}  // namespace lotwear
