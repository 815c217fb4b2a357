// Memory must not grow with the number of photos: a walk over a lot brings home hundreds.

#include <fmt/format.h>
#include <gmock/gmock.h>

#include "support/figure.hpp"
#include "support/rendered_photo.hpp"
#include "support/run_program.hpp"

namespace lotwear {
namespace {

/// Peak of `lotwear assess` on `copies` of two lots; every copy is a photo of its own by its bytes.
double peak_mb(const test::ScratchFolder& folder, const std::vector<std::string>& lots, int copies) {
  const std::string photos = fmt::format("photos-{}", copies);
  for (int copy = 0; copy < copies; ++copy) {
    for (std::size_t lot = 0; lot < lots.size(); ++lot)
      folder.put(fmt::format("{}/{}-{}.jpg", photos, copy, lot),
                 test::with_comment(lots[lot], fmt::format("copy {}", copy)));
  }
  const test::Ran ran = test::run_program(
      LOTWEAR_PROGRAM, {"assess", folder / photos, "-o", folder / ("survey-" + photos), "--threads", "1", "--quiet"},
      folder);
  EXPECT_EQ(ran.exit_code, 0) << ran.err;
  return ran.peak_mb;
}

TEST(Memory, DoesNotGrowWithTheNumberOfPhotos) {
  const test::ScratchFolder folder;
  const std::vector<std::string> lots{test::rendered_photo(91'100, 5), test::rendered_photo(91'101, 5)};
  const double few = peak_mb(folder, lots, 1), more = peak_mb(folder, lots, 3);
  test::show_figure(
      "memory", fmt::format("peak memory, 5 MP photos one at a time: {:.0f} MB for 2, {:.0f} MB for 6\n", few, more));
  EXPECT_LT(more, 1.15 * few);
}

}  // namespace
}  // namespace lotwear
