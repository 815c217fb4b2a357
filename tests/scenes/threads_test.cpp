// Same photos, same bytes: survey.json and every evidence picture, for any number of threads. Several photos spread
// over threads, one photo spreads its own loops: both ways are held against one thread.

#include <fmt/format.h>
#include <gmock/gmock.h>

#include <map>

#include "base/files.hpp"
#include "support/rendered_photo.hpp"
#include "support/run_program.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;

using Files = std::map<std::string, std::string>;

Files assessed(const test::ScratchFolder& folder, const fs::path& photos, int threads) {
  const fs::path survey = folder / fmt::format("survey-{}", threads);
  const test::Ran ran = test::run_program(
      LOTWEAR_PROGRAM, {"assess", photos, "-o", survey, "--threads", std::to_string(threads), "--quiet"}, folder);
  EXPECT_EQ(ran.exit_code, 0) << ran.err;
  Files files;
  for (const auto& entry : fs::recursive_directory_iterator(survey)) {
    if (entry.is_regular_file()) files[fs::relative(entry.path(), survey)] = read_file(entry.path());
  }
  fs::remove_all(survey);
  return files;
}

void expect_same_bytes(const Files& one, const Files& other) {
  ASSERT_EQ(one.size(), other.size());
  for (const auto& [name, bytes] : one) {
    ASSERT_TRUE(other.contains(name)) << name;
    EXPECT_TRUE(bytes == other.at(name)) << name << " differs";
  }
}

TEST(Threads, PhotosSpreadOverThreadsGiveTheSameBytes) {
  const test::ScratchFolder folder;
  for (const int i : {0, 1, 2})
    folder.put(fmt::format("photos/{}.jpg", i), test::rendered_photo(92'100 + static_cast<std::uint64_t>(i)));
  const Files one = assessed(folder, folder / "photos", 1);
  ASSERT_GE(one.size(), 1U + 3U) << "no marking was found: nothing to compare";
  expect_same_bytes(one, assessed(folder, folder / "photos", 2));
}

TEST(Threads, OnePhotoWithManyThreadsGivesTheSameBytes) {
  const test::ScratchFolder folder;
  folder.put("photos/a.jpg", test::rendered_photo(92'100, 4));
  const Files one = assessed(folder, folder / "photos", 1);
  ASSERT_GE(one.size(), 1U + 3U) << "no marking was found: nothing to compare";
  expect_same_bytes(one, assessed(folder, folder / "photos", 4));
}

}  // namespace
}  // namespace lotwear
