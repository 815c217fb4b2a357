#include "tally/money.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>

#include "base/trouble.hpp"

namespace lotwear {
namespace {

/// The slow, obviously right way: long multiplication, digit by digit, then the half is looked at.
std::int64_t by_hand(std::int64_t a, std::int64_t b, std::int64_t by) {
  std::int64_t whole = 0, rest = 0;
  for (std::int64_t bit = std::int64_t{1} << 40; bit > 0; bit >>= 1) {
    whole *= 2, rest *= 2;
    if (b & bit) rest += a;
    whole += rest / by;
    rest %= by;
  }
  return whole + (2 * rest >= by ? 1 : 0);
}

TEST(Money, EveryProductIsExactWithHalvesAwayFromZero) {
  std::uint64_t state = 42;
  const auto next = [&](std::int64_t below) {
    state = state * 6364136223846793005ULL + 1442695040888963407ULL;
    return static_cast<std::int64_t>((state >> 20) % static_cast<std::uint64_t>(below));
  };
  for (int i = 0; i < 20000; ++i) {
    const std::int64_t quantity = next(10'000'000), each = next(1'000'000), share = next(100'000);
    EXPECT_EQ(cents_for(quantity, each, "x"), by_hand(quantity, each, 100));
    EXPECT_EQ(share_of(quantity, share, "x"), by_hand(quantity, share, 10000));
    EXPECT_EQ(share_of(-quantity, share, "x"), -by_hand(quantity, share, 10000));
  }
}

// What doubles get wrong: 1.15 x 100 is 114.99999999999999 there.
TEST(Money, KeepsTheHalvesThatDoublesLose) {
  EXPECT_EQ(cents_for(5, 10, "x"), 1) << "0.05 x 0.10 is half a cent";
  EXPECT_EQ(cents_for(115, 10, "x"), 12) << "1.15 x 0.10 is 11.5 cents";
  EXPECT_EQ(share_of(1000, 825, "x"), 83) << "8.25 % of 10.00 is 82.5 cents";
}

TEST(Money, BeyondAnyJobIsRefused) {
  EXPECT_THROW(cents_for(INT64_MAX / 2, 3, "x"), Failure);
  EXPECT_THROW(cents_for(1'000'000'000'000, 1'000'000, "x"), Failure);
  EXPECT_THROW(whole_hundredths(-0.01, "x"), Failure);
  EXPECT_THROW(whole_hundredths(std::nan(""), "x"), Failure);
}

TEST(Money, ReadsAsPeopleWriteIt) {
  EXPECT_EQ(money_text(123450), "1234.50");
  EXPECT_EQ(money_text(-5), "-0.05");
  EXPECT_EQ(share_text(825), "8.25 %");
  EXPECT_EQ(share_text(1000), "10 %");
  EXPECT_EQ(share_text(750), "7.5 %");
}

}  // namespace
}  // namespace lotwear
