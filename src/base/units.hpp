#pragma once
// Amounts that cannot be mixed up: millimetres on the pavement, pixels of a photo, shares of a whole.

#include <compare>

namespace lotwear {

/// A number with a unit. Adds, subtracts and compares with its own kind, scales by plain numbers; a ratio is a double.
template <class Of>
struct Amount {
  double value = 0;

  friend constexpr Amount operator+(Amount a, Amount b) { return {a.value + b.value}; }
  friend constexpr Amount operator-(Amount a, Amount b) { return {a.value - b.value}; }
  friend constexpr Amount operator-(Amount a) { return {-a.value}; }
  friend constexpr Amount operator*(Amount a, double by) { return {a.value * by}; }
  friend constexpr Amount operator*(double by, Amount a) { return {a.value * by}; }
  friend constexpr Amount operator/(Amount a, double by) { return {a.value / by}; }
  friend constexpr double operator/(Amount a, Amount b) { return a.value / b.value; }
  friend constexpr auto operator<=>(Amount, Amount) = default;
};

using Millimetres = Amount<struct OfGround>;
using Pixels = Amount<struct OfImage>;
using Fraction = Amount<struct OfWhole>;  ///< 0..1; percent exists only in text and JSON

/// 90 % interval of a share; low <= value <= high.
struct Interval {
  Fraction low{}, value{}, high{};
};

namespace literals {
constexpr Millimetres operator""_mm(long double v) { return {static_cast<double>(v)}; }
constexpr Millimetres operator""_mm(unsigned long long v) { return {static_cast<double>(v)}; }
constexpr Pixels operator""_px(long double v) { return {static_cast<double>(v)}; }
constexpr Fraction operator""_percent(long double v) { return {static_cast<double>(v) / 100.0}; }
constexpr Fraction operator""_percent(unsigned long long v) { return {static_cast<double>(v) / 100.0}; }
}  // namespace literals

constexpr double percent(Fraction share) { return share.value * 100.0; }

}  // namespace lotwear
