#include "tally/units.hpp"

#include <algorithm>
#include <array>
#include <charconv>

namespace lotwear {

namespace {

constexpr double kLitresPerCubicMetre = 1000;

constexpr std::array<Unit, 24> kUnits = {{
    {"each", Measure::each, 1},
    {"um", Measure::length, 1e-6},
    {"mil", Measure::length, kMetresPerMil},
    {"mm", Measure::length, 0.001},
    {"cm", Measure::length, 0.01},
    {"in", Measure::length, kMetresPerInch},
    {"ft", Measure::length, kMetresPerFoot},
    {"yd", Measure::length, 3 * kMetresPerFoot},
    {"m", Measure::length, 1},
    {"mile", Measure::length, 5280 * kMetresPerFoot},
    {"sq in", Measure::area, kMetresPerInch* kMetresPerInch},
    {"sq ft", Measure::area, kSquareMetresPerSquareFoot},
    {"sq yd", Measure::area, 9 * kSquareMetresPerSquareFoot},
    {"m2", Measure::area, 1},
    {"qt", Measure::volume, kLitresPerGallon / 4},
    {"gal", Measure::volume, kLitresPerGallon},
    {"ml", Measure::volume, 0.001},
    {"l", Measure::volume, 1},
    {"lb", Measure::mass, kKilogramsPerPound},
    {"kg", Measure::mass, 1},
    {"s", Measure::time, 1.0 / 3600},
    {"min", Measure::time, 1.0 / 60},
    {"h", Measure::time, 1},
    {"day", Measure::time, 24},
}};

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && text.front() == ' ')
    text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ')
    text.remove_suffix(1);
  return text;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// Length of the decimal that `text` starts with, 0 for none.
std::size_t decimal_length(std::string_view text) {
  std::size_t at = 0;
  while (at < text.size() && is_digit(text[at]))
    ++at;
  if (at == 0) return 0;
  if (at + 1 < text.size() && text[at] == '.' && is_digit(text[at + 1])) {
    ++at;
    while (at < text.size() && is_digit(text[at]))
      ++at;
  }
  return at;
}

}  // namespace

std::optional<Unit> unit_named(std::string_view name) {
  const auto at = std::find_if(kUnits.begin(), kUnits.end(), [&](const Unit& unit) { return unit.name == name; });
  if (at == kUnits.end()) return std::nullopt;
  return *at;
}

std::vector<std::string_view> unit_names(Measure of) {
  std::vector<std::string_view> names;
  for (const Unit& unit : kUnits) {
    if (unit.of == of) names.push_back(unit.name);
  }
  return names;
}

std::optional<WrittenAmount> read_amount(std::string_view text) {
  constexpr std::size_t kLongestDecimal = 18;
  text = trimmed(text);
  const std::size_t digits = decimal_length(text);
  if (digits == 0 || digits > kLongestDecimal) return std::nullopt;
  WrittenAmount amount;
  amount.decimal = text.substr(0, digits);
  std::from_chars(amount.decimal.data(), amount.decimal.data() + amount.decimal.size(), amount.value);
  const std::string_view rest = trimmed(text.substr(digits));
  if (rest.empty() || is_digit(rest.front()) || rest.front() == '.' || rest.front() == ',') return std::nullopt;
  constexpr std::string_view kEach = " each";
  const std::size_t slash = rest.find('/');
  if (slash != std::string_view::npos) {
    amount.unit = trimmed(rest.substr(0, slash));
    amount.per = trimmed(rest.substr(slash + 1));
    if (amount.per.empty()) return std::nullopt;
  } else if (rest.size() > kEach.size() && rest.ends_with(kEach)) {
    amount.unit = trimmed(rest.substr(0, rest.size() - kEach.size()));
    amount.per = "each";
  } else {
    amount.unit = rest;
  }
  if (amount.unit.empty()) return std::nullopt;
  return amount;
}

std::optional<std::int64_t> hundredths(std::string_view decimal) {
  constexpr std::size_t kMostWholeDigits = 9;
  const std::size_t point = std::min(decimal.find('.'), decimal.size());
  const std::string_view whole = decimal.substr(0, point);
  std::string_view part = decimal.substr(std::min(point + 1, decimal.size()));
  if (whole.empty() || whole.size() > kMostWholeDigits || part.size() > 2) return std::nullopt;
  std::int64_t sum = 0;
  for (const char c : whole)
    sum = sum * 10 + (c - '0');
  sum *= 100;
  if (!part.empty()) sum += (part[0] - '0') * 10;
  if (part.size() == 2) sum += part[1] - '0';
  return sum;
}

double wet_paint_l(double area_m2, double wet_film_m) { return area_m2 * wet_film_m * kLitresPerCubicMetre; }

}  // namespace lotwear
