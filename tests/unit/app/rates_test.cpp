#include "app/rates.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "support/scratch_folder.hpp"
#include "tally/rates.hpp"

namespace lotwear {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

TEST(RatesCommand, NewWritesACommentedFileThatChecksWellUnderItsOwnName) {
  const test::ScratchFolder folder;
  std::ostringstream out;
  const RatesOptions options{folder / "mine.json", "Harbour \"night\" crew"};
  rates_new(options, out);
  EXPECT_EQ(load_rates(options.file).name, "Harbour \"night\" crew");
  EXPECT_THAT(read_file(options.file), HasSubstr("\"_wet_film\""));
  rates_check(options, out);
  EXPECT_THAT(out.str(), HasSubstr("mine.json: reads well"));
}

TEST(RatesCommand, NewNeverOverwrites) {
  const test::ScratchFolder folder;
  std::ostringstream out;
  const RatesOptions options{folder.put("mine.json", "my only copy"), ""};
  EXPECT_THROW(rates_new(options, out), Failure);
  EXPECT_EQ(read_file(options.file), "my only copy");
}

TEST(RatesCommand, CheckNamesEveryMistakeAndFails) {
  const test::ScratchFolder folder;
  std::ostringstream out;
  std::string text = read_file(std::filesystem::path(LOTWEAR_MODELS) / "rates.json");
  text.replace(text.find("\"15 mil\""), 8, "\"-1 mil\"");
  text.replace(text.find("\"coats\""), 7, "\"coat\"");
  const RatesOptions options{folder.put("mine.json", text), ""};
  try {
    rates_check(options, out);
    FAIL() << "it should have complained";
  } catch (const Failure& failure) {
    EXPECT_THAT(failure.what(), HasSubstr("3 mistakes"));
  }
  EXPECT_THAT(out.str(),
              AllOf(HasSubstr("paint.wet_film"), HasSubstr("paint.coat is not"), HasSubstr("paint.coats is missing")));
}

}  // namespace
}  // namespace lotwear
