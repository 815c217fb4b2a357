#pragma once
// Units of the trade, read from text like "15 mil", "42.50 USD/gal" or "1500 ft/h". Inside, everything is metres,
// square metres, litres, kilograms and hours.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lotwear {

enum class Measure { each, length, area, volume, mass, time };

struct Unit {
  std::string_view name;
  Measure of = Measure::each;
  double size = 1;  ///< in metres, square metres, litres, kilograms, hours
};

/// Exact by definition: inch 25.4 mm, US gallon 231 cubic inches, pound 0.45359237 kg.
std::optional<Unit> unit_named(std::string_view name);
/// Every name that `unit_named` knows for a measure, for messages.
std::vector<std::string_view> unit_names(Measure of);

inline constexpr double kMetresPerFoot = 0.3048;
inline constexpr double kMetresPerInch = 0.0254;
inline constexpr double kMetresPerMil = 0.0000254;
inline constexpr double kSquareMetresPerSquareFoot = kMetresPerFoot * kMetresPerFoot;
inline constexpr double kLitresPerGallon = 231 * kMetresPerInch * kMetresPerInch * kMetresPerInch * 1000;
inline constexpr double kKilogramsPerPound = 0.45359237;

/// "<decimal> <unit>" or "<decimal> <unit>/<per>"; "35 USD each" is "35 USD/each".
struct WrittenAmount {
  std::string decimal;  ///< digits with at most one point, no sign, no exponent
  double value = 0;
  std::string unit, per;  ///< as written; `per` empty where there is none
};
/// Nothing when the text has another form.
std::optional<WrittenAmount> read_amount(std::string_view text);

/// Hundredths as an exact whole number; nothing with more than two decimals or more than a billion.
std::optional<std::int64_t> hundredths(std::string_view decimal);

/// Litres of wet paint on an area. 15 mil covers 106.9 sq ft a US gallon: 231 cu in make 1604 sq ft at 1 mil.
double wet_paint_l(double area_m2, double wet_film_m);

}  // namespace lotwear
