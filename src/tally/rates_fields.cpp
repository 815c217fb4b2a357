#include "tally/rates_fields.hpp"

#include <algorithm>

namespace lotwear {

namespace {

constexpr double kMost = 1e9;

std::int64_t cents_of(const Fields& from, std::string_view name, const WrittenAmount& amount,
                      const std::string& currency) {
  if (amount.unit != currency) {
    from.refuse(name, fmt::format("is in \"{}\" where the file's currency is {}", amount.unit, currency));
  }
  const auto cents = hundredths(amount.decimal);
  if (!cents) from.refuse(name, fmt::format("must be a price to the cent, not \"{}\"", amount.decimal));
  return *cents;
}

}  // namespace

void known_only(Complaints& complaints, const Fields& from, std::initializer_list<std::string_view> known) {
  for (const std::string& name : from.names()) {
    if (std::find(known.begin(), known.end(), name) != known.end()) continue;
    complaints.unless([&] {
      from.refuse(name,
                  "is not a known field; correct its name, or begin it with an underscore to keep it as a comment");
    });
  }
}

WrittenAmount amount_of(const Fields& from, std::string_view name, std::string_view example) {
  if (from.is_number(name)) {
    from.number(name, 0, kMost);
    from.refuse(name, fmt::format("lacks its unit; write it in quotes, as in \"{}\"", example));
  }
  const std::string written = from.text(name);
  if (!written.empty() && written.find_first_of('-') == 0)
    from.refuse(name, fmt::format("must not be negative: \"{}\"", written));
  const auto amount = read_amount(written);
  if (!amount)
    from.refuse(name, fmt::format("must be a number and its unit, as in \"{}\", not \"{}\"", example, written));
  return *amount;
}

Unit unit_of(const Fields& from, std::string_view name, const std::string& said,
             std::initializer_list<Measure> allowed) {
  const auto unit = unit_named(said);
  if (unit && std::find(allowed.begin(), allowed.end(), unit->of) != allowed.end()) return *unit;
  std::vector<std::string_view> names;
  for (const Measure of : allowed) {
    for (const std::string_view one : unit_names(of))
      names.push_back(one);
  }
  from.refuse(name, fmt::format("has the unit \"{}\"; use one of {}", said, fmt::join(names, ", ")));
}

double plain_amount(const Fields& from, std::string_view name, Measure of, std::string_view example) {
  const WrittenAmount amount = amount_of(from, name, example);
  const Unit unit = unit_of(from, name, amount.unit, {of});
  if (!amount.per.empty()) from.refuse(name, fmt::format("must be a plain amount, as in \"{}\"", example));
  return amount.value * unit.size;
}

double positive(const Fields& from, std::string_view name, double value) {
  if (!(value > 0)) from.refuse(name, "must be more than zero");
  return value;
}

std::int64_t hundredths_of_percent(const Fields& from, std::string_view name, std::string_view example, int most) {
  const WrittenAmount amount = amount_of(from, name, example);
  if (amount.unit != "%" || !amount.per.empty())
    from.refuse(name, fmt::format("must be a share, as in \"{}\"", example));
  if (amount.value > most) from.refuse(name, fmt::format("must not be over {} %", most));
  const auto share = hundredths(amount.decimal);
  if (!share) from.refuse(name, "must have at most two decimals");
  return *share;
}

double temperature_of(const Fields& from, std::string_view name) {
  if (from.is_number(name)) from.refuse(name, "lacks its unit; write it in quotes, as in \"50 F\" or \"10 C\"");
  std::string written = from.text(name);
  const bool below_zero = written.starts_with('-');
  const auto amount = read_amount(below_zero ? written.substr(1) : written);
  if (!amount || !amount->per.empty() || (amount->unit != "F" && amount->unit != "C"))
    from.refuse(name, fmt::format("must be a temperature, as in \"50 F\" or \"10 C\", not \"{}\"", written));
  const double degrees = below_zero ? -amount->value : amount->value;
  const double celsius = amount->unit == "C" ? degrees : (degrees - 32) * 5 / 9;
  if (celsius < -60 || celsius > 100) from.refuse(name, "is no temperature that pavement has; is the unit right?");
  return celsius;
}

double degrees_apart(const Fields& from, std::string_view name) {
  const WrittenAmount amount = amount_of(from, name, "5 F");
  if (!amount.per.empty() || (amount.unit != "F" && amount.unit != "C"))
    from.refuse(name, "must be a difference in degrees, as in \"5 F\" or \"3 C\"");
  return amount.unit == "C" ? amount.value : amount.value * 5 / 9;
}

Pace pace_of(const Fields& from, std::string_view name, std::initializer_list<Measure> allowed,
             std::string_view example) {
  const WrittenAmount amount = amount_of(from, name, example);
  positive(from, name, amount.value);
  if (amount.per == "each") {
    if (std::find(allowed.begin(), allowed.end(), Measure::each) == allowed.end()) {
      from.refuse(name, fmt::format("must be an amount an hour, as in \"{}\"", example));
    }
    const double hours = amount.value * unit_of(from, name, amount.unit, {Measure::time}).size;
    return {Measure::each, 1 / hours, from.path_to(name)};
  }
  if (amount.per.empty()) from.refuse(name, fmt::format("lacks its time, as in \"{}\"", example));
  const Unit time = unit_of(from, name, amount.per, {Measure::time});
  const Unit unit = unit_of(from, name, amount.unit, allowed);
  return {unit.of, amount.value * unit.size / time.size, from.path_to(name)};
}

std::int64_t sum_of_money(const Fields& from, std::string_view name, const std::string& currency) {
  const std::string example = "150 " + currency;
  const WrittenAmount amount = amount_of(from, name, example);
  if (!amount.per.empty()) from.refuse(name, fmt::format("must be a sum, as in \"{}\"", example));
  return cents_of(from, name, amount, currency);
}

Price price_of(const Fields& from, std::string_view name, const std::string& currency,
               std::initializer_list<Measure> allowed, std::string_view per_example) {
  const std::string example = fmt::format("12.50 {}/{}", currency, per_example);
  const WrittenAmount amount = amount_of(from, name, example);
  const std::int64_t cents = cents_of(from, name, amount, currency);
  if (amount.per.empty()) from.refuse(name, fmt::format("lacks what it is the price of, as in \"{}\"", example));
  return {cents, unit_of(from, name, amount.per, allowed), from.path_to(name)};
}

bool is_kind_entry(const std::string& name) { return kind_from(name).has_value() || name == "arrow"; }
bool is_colour_entry(const std::string& name) { return colour_from(name).has_value(); }

}  // namespace lotwear
