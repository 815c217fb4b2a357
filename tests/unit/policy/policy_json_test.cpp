#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "policy/policy.hpp"

namespace lotwear {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

const std::filesystem::path kShipped = std::filesystem::path(LOTWEAR_MODELS) / "policy.json";

std::string complaint(const std::string& text) {
  try {
    read_policy(text, "mine.json");
  } catch (const Failure& failure) {
    return failure.what();
  }
  return "no complaint";
}

std::string shipped_with(const std::string& part, const std::string& instead) {
  std::string text = read_file(kShipped);
  const std::size_t at = text.find(part);
  EXPECT_NE(at, std::string::npos) << part;
  return text.replace(at, part.size(), instead);
}

TEST(PolicyFile, TheShippedFileHoldsTheDefaults) {
  const Policy read = load_policy(kShipped);
  const Policy usual;
  EXPECT_EQ(read.grind_flaked, usual.grind_flaked);
  EXPECT_EQ(read.grind_older_coat, usual.grind_older_coat);
  EXPECT_EQ(read.grind_adhesion_class, usual.grind_adhesion_class);
  EXPECT_EQ(read.grind_build_up_mm, usual.grind_build_up_mm);
  EXPECT_EQ(read.grind_build_up_cracked, usual.grind_build_up_cracked);
  EXPECT_EQ(read.repaint_below, usual.repaint_below);
  EXPECT_EQ(read.repaint_faded, usual.repaint_faded);
  EXPECT_EQ(read.severity_full_at, usual.severity_full_at);
  EXPECT_EQ(read.severity_of_grind, usual.severity_of_grind);
  EXPECT_EQ(read.consequence, usual.consequence);
}

TEST(PolicyFile, AContractorsOwnNumberIsUsed) {
  EXPECT_EQ(
      read_policy(shipped_with("\"flaked_percent\": 10", "\"flaked_percent\": 12.5"), "mine.json").grind_flaked.value,
      0.125);
}

TEST(PolicyFile, NamesFileFieldAndLineOfAWrongNumber) {
  EXPECT_THAT(complaint(shipped_with("\"flaked_percent\": 10", "\"flaked_percent\": 110")),
              AllOf(HasSubstr("mine.json"), HasSubstr("line 12, column 23"), HasSubstr("grind.flaked_percent"),
                    HasSubstr("110")));
  EXPECT_THAT(complaint(shipped_with("\"tape_pull_class\": 2", "\"tape_pull_class\": \"2B\"")),
              AllOf(HasSubstr("grind.tape_pull_class"), HasSubstr("2B")));
  EXPECT_THAT(complaint(shipped_with("\"tape_pull_class\": 2", "\"tape_pull_class\": 2.5")), HasSubstr("whole number"));
  EXPECT_THAT(complaint(shipped_with("\"legend\": 0.9", "\"legend\": -0.1")), HasSubstr("priority.consequence.legend"));
}

TEST(PolicyFile, NamesMissingAndUnknownFields) {
  EXPECT_THAT(complaint(shipped_with("\"faded_over_percent\"", "\"faded_percent\"")),
              AllOf(HasSubstr("repaint.faded_percent"), HasSubstr("not a known field")));
  EXPECT_THAT(complaint(shipped_with("\"faded_over_percent\": 25,", "")),
              AllOf(HasSubstr("repaint.faded_over_percent"), HasSubstr("is missing")));
  EXPECT_THAT(complaint(shipped_with("\"legend\"", "\"legends\"")), HasSubstr("no kind of marking"));
}

TEST(PolicyFile, SaysWhereTornTextBreaks) {
  EXPECT_THAT(complaint(""), HasSubstr("mine.json: not valid JSON at line 1, column 1"));
  EXPECT_THAT(complaint("{\n  \"format\": \"lotwear-policy\",\n"), HasSubstr("not valid JSON"));
  EXPECT_THAT(complaint("[1, 2]"), HasSubstr("array where one JSON object"));
  EXPECT_THAT(complaint("{\"version\": 1e999}"), HasSubstr("too large"));
  EXPECT_THAT(complaint(std::string(100000, '[')), HasSubstr("nested deeper"));
  EXPECT_THAT(complaint("{\"format\": \"\xff\"}"), HasSubstr("not valid JSON"));
}

TEST(PolicyFile, AMissingFileIsNamed) { EXPECT_THROW(load_policy("/nowhere/policy.json"), Failure); }

}  // namespace
}  // namespace lotwear
