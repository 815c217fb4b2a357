#pragma once
// A contractor's own rates, as models/rates.json says them.

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <set>
#include <string>

#include "base/kinds.hpp"
#include "base/units.hpp"
#include "tally/units.hpp"

namespace lotwear {

/// Money for one of something.
struct Price {
  std::int64_t cents = 0;
  Unit per;            ///< each, ft, sq ft, h, gal, ...
  std::string source;  ///< field of the rates file, for the estimate's formulas
};

/// How fast one person works.
struct Pace {
  Measure of = Measure::area;  ///< each, length or area
  double per_hour = 0;         ///< pieces, metres or square metres an hour
};

struct Grinding {
  std::string method;
  double margin_m = 0;  ///< ground beyond the marking on every side
  double m2_per_h = 0;  ///< in one pass
  int passes = 1;
};

enum class TaxOn { everything, materials };

struct Rates {
  std::string name, currency;

  double wet_film_m = 0;
  int coats = 1;
  Fraction waste{};
  std::optional<double> beads_kg_per_l;
  double drying_h = 0;
  std::map<std::string, Pace> painting;  ///< by kind word, "arrow" or "other"

  double cleaning_m2_per_h = 0;
  double masking_m_per_h = 0;
  std::set<Kind> masked;
  Grinding grinding;

  int people = 1;
  double set_up_h = 0;

  /// By kind word, "arrow" or "other".
  std::map<std::string, Price> repaint, grind;
  /// Per each, for markings in photos without scale whose price is per length, area or hour.
  std::map<std::string, Price> repaint_without_size, grind_without_size;
  std::map<std::string, Price> paint;  ///< by colour word or "other"
  std::optional<Price> beads;

  std::int64_t mobilisation_cents = 0, minimum_cents = 0;
  std::int64_t tax_hundredths_of_percent = 0;
  TaxOn tax_on = TaxOn::everything;
};

/// The entry for a kind: its own word, else "arrow" for arrows, else "other". Nothing when none is listed.
template <class T>
std::optional<T> for_kind(const std::map<std::string, T>& entries, Kind kind) {
  for (const std::string_view name :
       {word(kind), std::string_view(is_arrow(kind) ? "arrow" : "other"), std::string_view("other")}) {
    if (const auto at = entries.find(std::string(name)); at != entries.end()) return at->second;
  }
  return std::nullopt;
}

/// Throws Failure naming the file, line, column and field: unknown fields, negative numbers, missing or wrong units.
Rates load_rates(const std::filesystem::path& file);
Rates read_rates(const std::string& text, const std::string& name);

}  // namespace lotwear
