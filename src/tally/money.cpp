#include "tally/money.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <limits>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr std::int64_t kBeyondAnyJob = 100'000'000'000'000;  // cents; keeps every sum far from overflow

/// a x b / by, half away from zero, exactly; a, b at least zero.
std::int64_t multiplied(std::int64_t a, std::int64_t b, std::int64_t by, const std::string& what) {
  const bool overflows = a != 0 && b > (std::numeric_limits<std::int64_t>::max() - by) / a;
  if (overflows || (a * b + by / 2) / by > kBeyondAnyJob) {
    throw Failure(fmt::format("{}: the price is beyond any job; check the sizes in the survey and the rates", what));
  }
  return (a * b + by / 2) / by;
}

}  // namespace

std::int64_t cents_for(std::int64_t hundredths_of_unit, std::int64_t cents_each, const std::string& what) {
  return multiplied(hundredths_of_unit, cents_each, 100, what);
}

std::int64_t share_of(std::int64_t cents, std::int64_t hundredths_of_percent, const std::string& what) {
  constexpr std::int64_t kHundredthsOfPercent = 10000;
  const std::int64_t size = multiplied(std::abs(cents), hundredths_of_percent, kHundredthsOfPercent, what);
  return cents < 0 ? -size : size;
}

std::int64_t whole_hundredths(double value, const std::string& what) {
  constexpr double kMost = 1e15;
  if (!(value >= 0 && value < kMost)) {
    throw Failure(fmt::format("{}: the quantity is beyond any job; check the sizes in the survey", what));
  }
  return std::llround(value * 100);
}

std::string money_text(std::int64_t cents) {
  return fmt::format("{}{}.{:02}", cents < 0 ? "-" : "", std::abs(cents) / 100, std::abs(cents) % 100);
}

std::string share_text(std::int64_t hundredths_of_percent) {
  const std::int64_t whole = hundredths_of_percent / 100, part = hundredths_of_percent % 100;
  if (part == 0) return fmt::format("{} %", whole);
  return part % 10 == 0 ? fmt::format("{}.{} %", whole, part / 10) : fmt::format("{}.{:02} %", whole, part);
}

}  // namespace lotwear
