// What `estimate` writes, against an approved copy. After a change that is meant: read the difference, then copy the
// .received file over the approved one.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "base/files.hpp"
#include "support/sample_survey.hpp"
#include "tally/tally.hpp"

namespace lotwear {
namespace {

using ::testing::Each;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::SizeIs;

const std::filesystem::path kApproved = std::filesystem::path(LOTWEAR_SOURCE) / "tests" / "unit" / "tally" / "approved";

Estimate small_estimate(Units units) {
  const Rates rates = load_rates(std::filesystem::path(LOTWEAR_MODELS) / "rates.json");
  Survey lot = samples::small_lot();
  lot.markings.push_back(samples::stall_line("M004", 1800));
  lot.markings.back().condition.size.reset();
  return estimate(lot, rates, units);
}

void compare(const std::string& name, const std::string& text) {
  const std::filesystem::path approved = kApproved / name;
  if (std::filesystem::exists(approved) && read_file(approved) == text) return;
  const std::filesystem::path received = std::filesystem::path(testing::TempDir()) / ("received." + name);
  std::ofstream(received, std::ios::binary) << text;
  FAIL() << "not as approved: compare " << received << " with " << approved;
}

/// Fields of an RFC 4180 table; fails on anything that the standard does not allow.
std::vector<std::vector<std::string>> parsed(const std::string& csv) {
  std::vector<std::vector<std::string>> rows(1);
  std::string cell;
  bool quoted = false;
  for (std::size_t i = 0; i < csv.size(); ++i) {
    const char c = csv[i];
    if (quoted) {
      if (c != '"') {
        cell += c;
      } else if (i + 1 < csv.size() && csv[i + 1] == '"') {
        cell += '"', ++i;
      } else {
        quoted = false;
      }
    } else if (c == '"') {
      EXPECT_TRUE(cell.empty()) << "a quote inside a plain cell";
      quoted = true;
    } else if (c == ',' || c == '\r') {
      rows.back().push_back(cell);
      cell.clear();
      if (c == '\r') {
        EXPECT_EQ(csv.at(i + 1), '\n');
        rows.emplace_back();
        ++i;
      }
    } else {
      EXPECT_NE(c, '\n') << "a bare line feed";
      cell += c;
    }
  }
  EXPECT_FALSE(quoted);
  EXPECT_TRUE(rows.back().empty() && cell.empty()) << "the last line must end too";
  rows.pop_back();
  return rows;
}

TEST(EstimateText, IsAsApproved) {
  compare("estimate-us.json", estimate_text(small_estimate(Units::us_customary)));
  compare("estimate-metric.json", estimate_text(small_estimate(Units::metric)));
}

TEST(EstimateCsv, IsAsApproved) { compare("estimate-us.csv", estimate_csv(small_estimate(Units::us_customary))); }

TEST(EstimateCsv, IsATableByRfc4180) {
  const auto rows = parsed(estimate_csv(small_estimate(Units::metric)));
  ASSERT_GT(rows.size(), 5u);
  EXPECT_THAT(rows, Each(SizeIs(rows[0].size())));
}

TEST(EstimateCsv, HostileTextStaysText) {
  Estimate sum = small_estimate(Units::us_customary);
  sum.prices[0].what = "=HYPERLINK(\"http://example.invalid\",\"x\")";
  sum.prices[1].what = "+1,\r\nnew line";
  sum.prices[2].formula = "@SUM(A1)";
  sum.quantities[0].markings = {"-2+3"};
  sum.notes = {"\tcmd"};
  std::size_t found = 0;
  for (const auto& row : parsed(estimate_csv(sum))) {
    for (const std::string& cell : row) {
      EXPECT_TRUE(cell.empty() || std::string("=+-@\t\r\n").find(cell[0]) == std::string::npos) << cell;
      for (const char* text :
           {"'=HYPERLINK(\"http://example.invalid\",\"x\")", "'+1,\r\nnew line", "'@SUM(A1)", "'-2+3", "'\tcmd"}) {
        found += cell == text ? 1 : 0;
      }
    }
  }
  EXPECT_EQ(found, 5u);
}

TEST(Money, IsShownToTheCent) {
  EXPECT_EQ(money_text(0), "0.00");
  EXPECT_EQ(money_text(5), "0.05");
  EXPECT_EQ(money_text(123450), "1234.50");
  EXPECT_EQ(money_text(-5), "-0.05");
}

}  // namespace
}  // namespace lotwear
