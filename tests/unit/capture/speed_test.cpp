// Reading a photo against what decoding it costs at least. Prints the figure; the bound only catches a lost order.

#include <gtest/gtest.h>
#include <malloc.h>

#include <algorithm>
#include <ctime>
#include <opencv2/imgproc.hpp>

#include "capture/photo.hpp"
#include "support/photo_files.hpp"
#include "support/plain_decode.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

double thread_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// Twelve megapixels of stones, noise and a few painted lines.
cv::Mat ground() {
  cv::RNG random(1);
  cv::Mat stones(3024, 4032, CV_8UC3), noise(3024, 4032, CV_8UC3);
  random.fill(stones, cv::RNG::NORMAL, 110, 45);
  cv::GaussianBlur(stones, stones, {}, 1.2);
  random.fill(noise, cv::RNG::NORMAL, 0, 3);
  stones += noise;
  for (int i = 0; i < 12; ++i)
    cv::line(stones, {100 + 300 * i, 0}, {1000 + 250 * i, 3024}, {235, 235, 230}, 90, cv::LINE_AA);
  return stones;
}

TEST(Speed, ReadingIsLittleMoreThanDecoding) {
  // Both sides get their memory back from the last round, so that page faults hide nothing.
  mallopt(M_MMAP_THRESHOLD, 1 << 30);
  mallopt(M_TRIM_THRESHOLD, 1 << 30);
  const test::ScratchFolder folder;
  test::JpegDetails details;
  details.full_chroma = false;
  details.icc = test::display_p3_icc();
  details.exif = test::exif_bytes({{"Exif.Image.Model", "Nine"}, {"Exif.Photo.FocalLengthIn35mmFilm", "26"}});
  const test::FileBytes bytes = test::jpeg_bytes(ground(), details);
  const std::filesystem::path file = folder.put("a.jpg", bytes);
  double decoding = 1e9, reading = 1e9;
  for (int round = 0; round < 5; ++round) {
    const double start = thread_seconds();
    cv::Mat rgb;
    test::plain_decode(bytes, rgb);
    const double middle = thread_seconds();
    ASSERT_TRUE(read_photo(file));
    decoding = std::min(decoding, middle - start);
    reading = std::min(reading, thread_seconds() - middle);
  }
  std::printf("12 MP JPEG of %.1f MB: decoding %.0f ms, reading the photo %.0f ms, %.2f times\n",
              static_cast<double>(bytes.size()) / 1e6, 1e3 * decoding, 1e3 * reading, reading / decoding);
  EXPECT_LT(reading / decoding, 2);
}

}  // namespace
}  // namespace lotwear
