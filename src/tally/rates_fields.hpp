#pragma once
// One field of a rates file each: amounts with units, paces, prices. Every refusal names file, line, column and field.

#include <fmt/format.h>

#include <initializer_list>
#include <map>
#include <string>
#include <vector>

#include "base/trouble.hpp"
#include "policy/fields.hpp"
#include "tally/rates.hpp"

namespace lotwear {

/// Goes on after a field that is wrong, so that one run names all of them.
class Complaints {
 public:
  template <class Step>
  void unless(Step step) {
    try {
      step();
    } catch (const Failure& failure) {
      all_.emplace_back(failure.what());
    }
  }
  const std::vector<std::string>& all() const { return all_; }

 private:
  std::vector<std::string> all_;
};

/// Every name that is none of `known` is a complaint.
void known_only(Complaints& complaints, const Fields& from, std::initializer_list<std::string_view> known);

/// The amount in a field like "wet_film": "15 mil"; a bare number lacks its unit.
WrittenAmount amount_of(const Fields& from, std::string_view name, std::string_view example);
/// The unit `said`, which must measure one of `allowed`.
Unit unit_of(const Fields& from, std::string_view name, const std::string& said,
             std::initializer_list<Measure> allowed);
double plain_amount(const Fields& from, std::string_view name, Measure of, std::string_view example);
double positive(const Fields& from, std::string_view name, double value);
/// "8.25 %" as 825.
std::int64_t hundredths_of_percent(const Fields& from, std::string_view name, std::string_view example, int most);
/// Degrees Celsius from "50 F" or "10 C"; the sign may be negative.
double temperature_of(const Fields& from, std::string_view name);
/// A difference in degrees Celsius from "5 F" or "3 C".
double degrees_apart(const Fields& from, std::string_view name);
/// "1500 ft/h", "60 sq ft/h" or "15 min each".
Pace pace_of(const Fields& from, std::string_view name, std::initializer_list<Measure> allowed,
             std::string_view example);
std::int64_t sum_of_money(const Fields& from, std::string_view name, const std::string& currency);
Price price_of(const Fields& from, std::string_view name, const std::string& currency,
               std::initializer_list<Measure> allowed, std::string_view per_example);

bool is_kind_entry(const std::string& name);
bool is_colour_entry(const std::string& name);

/// One entry for each name in an object; `other` must be among them when `needs_other`.
template <class Read>
auto entries_of(Complaints& complaints, const Fields& from, bool (*is_entry)(const std::string&),
                std::string_view entries, bool needs_other, Read read) {
  std::map<std::string, decltype(read(from, std::string()))> all;
  for (const std::string& name : from.names()) {
    complaints.unless([&] {
      if (!is_entry(name)) from.refuse(name, fmt::format("is no {}", entries));
      all.emplace(name, read(from, name));
    });
  }
  complaints.unless([&] {
    if (needs_other && !from.has("other")) from.refuse("other", "is missing; all that is not listed needs it");
  });
  return all;
}

void read_prices(Complaints& complaints, Rates& rates, const Fields& from);
void read_extras(Complaints& complaints, Rates& rates, const Fields& from);
void read_job(Complaints& complaints, Rates& rates, const Fields& from);
void read_costs(Complaints& complaints, Rates& rates, const Fields& from);

}  // namespace lotwear
