#include "capture/orientation.hpp"

#include <cstring>

#include "base/trouble.hpp"

namespace lotwear {
namespace {

bool is_transposed(int orientation) { return orientation >= 5; }
bool mirrors_x(int orientation) { return orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8; }
bool mirrors_y(int orientation) { return orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7; }

/// Copies pixels that lie `step` bytes apart to neighbouring places. Four bytes at once where a byte follows the pixel
/// in the source: the next pixel overwrites the fourth, and it takes half the time of three.
template <std::size_t kBytes>
void copy_run(std::uint8_t* to, const std::uint8_t* from, int pixels, std::ptrdiff_t step) {
  static_assert(kBytes == 3 || kBytes == 4);
  for (int i = 1; i < pixels; ++i, from += step, to += 3)
    std::memcpy(to, from, kBytes);
  std::memcpy(to, from, 3);
}

}  // namespace

cv::Size upright_size(cv::Size stored, int orientation) {
  return is_transposed(orientation) ? cv::Size(stored.height, stored.width) : stored;
}

void place_rows(const std::uint8_t* rows, std::size_t stride, int first_row, int count, cv::Size stored,
                int orientation, cv::Mat& upright) {
  require(orientation >= 1 && orientation <= 8, "an EXIF orientation is 1 to 8");
  require(upright.type() == CV_8UC3 && upright.size() == upright_size(stored, orientation),
          "the upright picture has the turned size");
  require(first_row >= 0 && count >= 0 && first_row + count <= stored.height, "rows lie in the picture");

  if (count == 0) return;
  const auto source_step = static_cast<std::ptrdiff_t>(stride);
  const std::uint8_t* const last_row = rows + source_step * (count - 1);
  if (!is_transposed(orientation)) {
    const std::ptrdiff_t from_right = mirrors_x(orientation) ? std::ptrdiff_t{3} * (stored.width - 1) : 0;
    for (int row = 0; row < count; ++row) {
      const int y = first_row + row;
      std::uint8_t* to = upright.ptr(mirrors_y(orientation) ? stored.height - 1 - y : y);
      const std::uint8_t* from = rows + source_step * row + from_right;
      if (mirrors_x(orientation)) {
        std::memcpy(to, from, 3);  // nothing need follow the last pixel of a row
        if (stored.width > 1) copy_run<4>(to + 3, from - 3, stored.width - 1, -3);
      } else {
        std::memcpy(to, from, 3 * static_cast<std::size_t>(stored.width));
      }
    }
    return;
  }
  // A stored column is an upright row; the band is a piece of it.
  const int left = mirrors_y(orientation) ? stored.height - first_row - count : first_row;
  const std::uint8_t* const start = mirrors_y(orientation) ? last_row : rows;
  const std::ptrdiff_t step = mirrors_y(orientation) ? -source_step : source_step;
  for (int x = 0; x < stored.width; ++x) {
    std::uint8_t* to = upright.ptr(mirrors_x(orientation) ? stored.width - 1 - x : x) + std::ptrdiff_t{3} * left;
    const auto copy = x + 1 < stored.width ? copy_run<4> : copy_run<3>;
    copy(to, start + std::ptrdiff_t{3} * x, count, step);
  }
}

}  // namespace lotwear
