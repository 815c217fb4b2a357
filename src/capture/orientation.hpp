#pragma once
// EXIF orientation (EXIF 2.32, tag 0x0112): 1 upright, 2 mirrored left-right, 3 turned by 180 degrees, 4 mirrored
// top-bottom, 5 transposed, 6 to be turned clockwise, 7 transposed across the other diagonal, 8 to be turned
// counter-clockwise.

#include <cstdint>
#include <opencv2/core/mat.hpp>

namespace lotwear {

/// Size of the upright picture.
cv::Size upright_size(cv::Size stored, int orientation);

/// Stores `count` rows (R G B bytes, `stride` bytes apart) of the picture as it lies in the file, the first of which is
/// row `first_row`, at their place in the upright picture. Rows come in bands, so that a turned photo needs no second
/// copy.
void place_rows(const std::uint8_t* rows, std::size_t stride, int first_row, int count, cv::Size stored,
                int orientation, cv::Mat& upright);

}  // namespace lotwear
