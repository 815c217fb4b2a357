#include "capture/sample.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>

namespace lotwear {
namespace {

constexpr double kPlaces = 200'000;  // sampled to 0.1 % of the picture, and half a thumbnail to find edges in
constexpr int kMostNeighbours = 4;   // pixels averaged at a place: noise halves, and they share a cache line
constexpr int kTop = 254;            // JPEG rounds 255 down
constexpr int kColourless = 2;       // what rounding in YCbCr adds to a grey pixel

struct Count {
  std::size_t pixels = 0, clipped = 0;
  unsigned coloured = 0;  ///< 1 when any pixel is
};

/// One row of places; their mean green goes to `green`.
Count sample_row(const std::uint8_t* row, int places, int step, int neighbours, std::uint8_t* green) {
  Count count;
  for (int i = 0; i < places; ++i) {
    const std::uint8_t* pixel = row + std::ptrdiff_t{3} * i * step;
    int sum = 0;
    for (int k = 0; k < neighbours; ++k, pixel += 3) {
      const int red = pixel[0], middle = pixel[1], blue = pixel[2];
      // Bitwise, because a branch that noise decides costs more than all the rest.
      count.clipped += static_cast<unsigned>(red >= kTop) | static_cast<unsigned>(middle >= kTop) |
                       static_cast<unsigned>(blue >= kTop);
      count.coloured |= static_cast<unsigned>(std::abs(red - middle) > kColourless) |
                        static_cast<unsigned>(std::abs(middle - blue) > kColourless) |
                        static_cast<unsigned>(std::abs(blue - red) > kColourless);
      sum += middle;
    }
    green[i] = static_cast<std::uint8_t>(sum / neighbours);
  }
  count.pixels = static_cast<std::size_t>(neighbours) * static_cast<std::size_t>(places);
  return count;
}

Fraction share(std::size_t part, std::size_t whole) {
  return {whole == 0 ? 0.0 : static_cast<double>(part) / static_cast<double>(whole)};
}

}  // namespace

Sample sample_photo(const cv::Mat& rgb) {
  Sample sample;
  sample.step = std::max(1, static_cast<int>(std::lround(std::sqrt(static_cast<double>(rgb.total()) / kPlaces))));
  const int neighbours = std::min(sample.step, kMostNeighbours);
  sample.green.create(rgb.rows / sample.step, rgb.cols / sample.step, CV_8UC1);
  Count above, below;
  for (int j = 0; j < sample.green.rows; ++j) {
    const Count row =
        sample_row(rgb.ptr(j * sample.step), sample.green.cols, sample.step, neighbours, sample.green.ptr(j));
    Count& sum = 3 * j < sample.green.rows ? above : below;
    sum.pixels += row.pixels;
    sum.clipped += row.clipped;
    sum.coloured |= row.coloured;
  }
  sample.clipped = share(above.clipped + below.clipped, above.pixels + below.pixels);
  sample.clipped_below = share(below.clipped, below.pixels);
  sample.grey = (above.coloured | below.coloured) == 0;
  return sample;
}

}  // namespace lotwear
