#pragma once
// A contractor's own rates, as models/rates.json says them. What a file leaves out of the later sections (weather,
// costs, extras, primer and so on) costs nothing and limits nothing.

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

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
  std::string source;          ///< field of the rates file
};

struct Grinding {
  std::string method;
  double margin_m = 0;                        ///< ground beyond the marking on every side
  double m2_per_h = 0;                        ///< in one pass
  int passes = 1;                             ///< for one coat
  int passes_each_older_coat = 0;             ///< on top, for every coat below the first
  double depth_m = 0;                         ///< taken off in one pass: paint and pavement, for the debris
  std::optional<double> collecting_m2_per_h;  ///< picking up dust and chips; nothing: cleaning does it
};

/// Seals bare pavement after grinding.
struct Primer {
  std::set<Surface> on;
  double wet_film_m = 0, drying_h = 0, m2_per_h = 0;
};

/// Limits of the paint, degrees Celsius; nothing where the rates say nothing.
struct Weather {
  std::optional<double> lowest_c, highest_c;        ///< of air and pavement
  std::optional<double> above_dew_point_c;          ///< pavement over dew point, a difference
  std::optional<double> dry_before_h, dry_after_h;  ///< without rain
};

/// What is closed to cars while a marking is worked on.
struct Closed {
  int bays = 0, lanes = 0;
};

struct Crew {
  int people = 1;
  double set_up_h = 0, pack_up_h = 0;    ///< each day
  double day_h = 8;                      ///< on site, set-up and packing up in it
  int grinders = 1, sprayers = 1;        ///< machines: so many people can grind or paint at once
  std::map<std::string, Closed> closes;  ///< by kind word, "arrow" or "other"
};

/// Something of the job that is no marking: a dust collector's hire, traffic control.
struct Extra {
  std::string what;
  Price price;                             ///< per job, h or day on site, or each marking worked on
  std::optional<std::int64_t> cost_cents;  ///< what it costs the contractor, in the same unit
  bool only_grinding = false;
};

/// What the job costs the contractor; materials cost what `Rates::paint` says before the mark-up.
struct Costs {
  std::int64_t person_hour_cents = 0, site_hour_cents = 0, mobilisation_cents = 0;
};

enum class TaxOn { everything, materials };

struct Rates {
  std::string name, currency;

  double wet_film_m = 0;
  int coats = 1;
  Fraction waste{};
  std::optional<double> beads_kg_per_l;
  double drying_h = 0;
  std::vector<WrittenAmount> containers;  ///< largest first; volumes that paint is bought in
  std::optional<Primer> primer;
  std::map<std::string, Pace> painting;  ///< by kind word, "arrow" or "other"
  Weather weather;

  double cleaning_m2_per_h = 0;
  double masking_m_per_h = 0;
  std::optional<double> surface_drying_m2_per_h;  ///< blowing damp pavement dry
  std::set<Kind> masked;
  Grinding grinding;
  Crew crew;

  /// By kind word, "arrow" or "other".
  std::map<std::string, Price> repaint, grind;
  /// Per each, for markings in photos without scale whose price is per length, area or hour.
  std::map<std::string, Price> repaint_without_size, grind_without_size;
  std::map<std::string, Price> paint;  ///< by colour word or "other"; before the mark-up
  std::optional<Price> beads, primer_price, disposal;
  std::int64_t markup_hundredths_of_percent = 0;  ///< on materials
  std::vector<Extra> extras;

  std::int64_t mobilisation_cents = 0, minimum_cents = 0;
  std::int64_t night_hundredths_of_percent = 0, weekend_hundredths_of_percent = 0;  ///< on labour and tools
  std::int64_t discount_hundredths_of_percent = 0;
  std::int64_t tax_hundredths_of_percent = 0;
  TaxOn tax_on = TaxOn::everything;

  std::optional<Costs> costs;
  double safety_from = 0.9;  ///< consequence by the action policy from which a marking is a safety matter
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

/// Everything that is wrong with a rates file, one sentence each, in the order of the file's sections; empty when it
/// reads well. Throws Failure when the file cannot be read at all.
std::vector<std::string> check_rates(const std::filesystem::path& file);
std::vector<std::string> rates_complaints(const std::string& text, const std::string& name);

}  // namespace lotwear
