#include <fmt/format.h>

#include <algorithm>

#include "base/files.hpp"
#include "policy/fields.hpp"
#include "tally/rates.hpp"

namespace lotwear {

namespace {

constexpr std::size_t kLargestRates = 1 << 20;
constexpr double kMost = 1e9;

/// The amount in a field like "wet_film": "15 mil"; a bare number lacks its unit.
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

/// The unit `said`, which must measure one of `allowed`.
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

double percent_of(const Fields& from, std::string_view name) {
  const WrittenAmount amount = amount_of(from, name, "10 %");
  if (amount.unit != "%" || !amount.per.empty()) from.refuse(name, "must be a share, as in \"10 %\"");
  if (amount.value > 100) from.refuse(name, "must not be over 100 %");
  return amount.value;
}

/// "1500 ft/h", "60 sq ft/h" or "15 min each".
Pace pace_of(const Fields& from, std::string_view name, std::initializer_list<Measure> allowed,
             std::string_view example) {
  const WrittenAmount amount = amount_of(from, name, example);
  positive(from, name, amount.value);
  if (amount.per == "each") {
    if (std::find(allowed.begin(), allowed.end(), Measure::each) == allowed.end()) {
      from.refuse(name, fmt::format("must be an amount an hour, as in \"{}\"", example));
    }
    return {Measure::each, 1 / (amount.value * unit_of(from, name, amount.unit, {Measure::time}).size)};
  }
  if (amount.per.empty()) from.refuse(name, fmt::format("lacks its time, as in \"{}\"", example));
  const Unit time = unit_of(from, name, amount.per, {Measure::time});
  const Unit unit = unit_of(from, name, amount.unit, allowed);
  return {unit.of, amount.value * unit.size / time.size};
}

std::int64_t cents_of(const Fields& from, std::string_view name, const WrittenAmount& amount,
                      const std::string& currency) {
  if (amount.unit != currency) {
    from.refuse(name, fmt::format("is in \"{}\" where the file's currency is {}", amount.unit, currency));
  }
  const auto cents = hundredths(amount.decimal);
  if (!cents) from.refuse(name, fmt::format("must be a price to the cent, not \"{}\"", amount.decimal));
  return *cents;
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

/// One entry for each name in an object; `other` must be among them when `needs_other`.
template <class Read>
auto entries_of(const Fields& from, bool (*is_entry)(const std::string&), std::string_view entries, bool needs_other,
                Read read) {
  std::map<std::string, decltype(read(from, std::string()))> all;
  for (const std::string& name : from.names()) {
    if (!is_entry(name)) from.refuse(name, fmt::format("is no {}", entries));
    all.emplace(name, read(from, name));
  }
  if (needs_other && !all.contains("other")) from.refuse("other", "is missing; all that is not listed needs it");
  return all;
}

void read_paint(Rates& rates, const Fields& from) {
  constexpr double kThickestM = 0.01;
  from.allow_only({"wet_film", "coats", "waste", "beads", "drying", "painting"});
  rates.wet_film_m = positive(from, "wet_film", plain_amount(from, "wet_film", Measure::length, "15 mil"));
  if (rates.wet_film_m > kThickestM) from.refuse("wet_film", "is thicker than 10 mm; is the unit right?");
  rates.coats = from.whole("coats", 1, 10);
  rates.waste = {percent_of(from, "waste") / 100};
  if (from.has("beads")) {
    const WrittenAmount amount = amount_of(from, "beads", "6 lb/gal");
    rates.beads_kg_per_l = amount.value * unit_of(from, "beads", amount.unit, {Measure::mass}).size /
                           unit_of(from, "beads", amount.per, {Measure::volume}).size;
  }
  rates.drying_h = plain_amount(from, "drying", Measure::time, "10 min");
  rates.painting =
      entries_of(from.object("painting"), is_kind_entry, "kind of marking", true,
                 [](const Fields& paces, const std::string& name) {
                   return pace_of(paces, name, {Measure::each, Measure::length, Measure::area}, "60 sq ft/h");
                 });
}

Grinding read_grinding(const Fields& from) {
  constexpr double kWidestMarginM = 1;
  from.allow_only({"method", "margin", "methods"});
  Grinding grinding;
  grinding.method = from.text("method");
  grinding.margin_m = plain_amount(from, "margin", Measure::length, "1 in");
  if (grinding.margin_m > kWidestMarginM) from.refuse("margin", "is wider than a metre; is the unit right?");
  const Fields methods = from.object("methods");
  if (!methods.has(grinding.method))
    from.refuse("method", fmt::format("is \"{}\", which `methods` does not list", grinding.method));
  for (const std::string& name : methods.names()) {
    const Fields method = methods.object(name);
    method.allow_only({"pace", "passes"});
    const Pace pace = pace_of(method, "pace", {Measure::area}, "75 sq ft/h");
    const int passes = method.whole("passes", 1, 20);
    if (name == grinding.method) grinding.m2_per_h = pace.per_hour, grinding.passes = passes;
  }
  return grinding;
}

void read_preparation(Rates& rates, const Fields& from) {
  from.allow_only({"cleaning", "masking", "masked_kinds", "grinding"});
  rates.cleaning_m2_per_h = pace_of(from, "cleaning", {Measure::area}, "3000 sq ft/h").per_hour;
  rates.masking_m_per_h = pace_of(from, "masking", {Measure::length}, "300 ft/h").per_hour;
  for (const std::string& name : from.texts("masked_kinds")) {
    if (!is_kind_entry(name))
      from.refuse("masked_kinds", fmt::format("names \"{}\", which is no kind of marking", name));
    for (std::size_t i = 0; i < kKindWords.size(); ++i) {
      const Kind kind = static_cast<Kind>(i);
      if (word(kind) == name || (name == "arrow" && is_arrow(kind))) rates.masked.insert(kind);
    }
  }
  rates.grinding = read_grinding(from.object("grinding"));
}

void read_prices(Rates& rates, const Fields& from) {
  from.allow_only({"repaint", "grind", "repaint_without_size", "grind_without_size", "paint", "beads"});
  const auto by_kind = [&](std::string_view name) {
    return entries_of(from.object(name), is_kind_entry, "kind of marking", true,
                      [&](const Fields& prices, const std::string& kind) {
                        return price_of(prices, kind, rates.currency,
                                        {Measure::each, Measure::length, Measure::area, Measure::time}, "sq ft");
                      });
  };
  const auto each_by_kind = [&](std::string_view name) -> std::map<std::string, Price> {
    const auto prices = from.object_if(name);
    if (!prices) return {};
    return entries_of(*prices, is_kind_entry, "kind of marking", false,
                      [&](const Fields& each, const std::string& kind) {
                        return price_of(each, kind, rates.currency, {Measure::each}, "each");
                      });
  };
  rates.repaint = by_kind("repaint");
  rates.grind = by_kind("grind");
  rates.repaint_without_size = each_by_kind("repaint_without_size");
  rates.grind_without_size = each_by_kind("grind_without_size");
  rates.paint = entries_of(from.object("paint"), is_colour_entry, "colour", true,
                           [&](const Fields& prices, const std::string& colour) {
                             return price_of(prices, colour, rates.currency, {Measure::volume}, "gal");
                           });
  if (from.has("beads")) rates.beads = price_of(from, "beads", rates.currency, {Measure::mass}, "lb");
  if (rates.beads_kg_per_l && !rates.beads) from.refuse("beads", "is missing, but paint.beads asks for beads");
}

void read_job(Rates& rates, const Fields& from) {
  from.allow_only({"mobilisation", "minimum", "tax", "tax_on"});
  rates.mobilisation_cents = sum_of_money(from, "mobilisation", rates.currency);
  rates.minimum_cents = sum_of_money(from, "minimum", rates.currency);
  percent_of(from, "tax");
  const auto tax = hundredths(amount_of(from, "tax", "8.25 %").decimal);
  if (!tax) from.refuse("tax", "must have at most two decimals");
  rates.tax_hundredths_of_percent = *tax;
  const std::string tax_on = from.text("tax_on");
  if (tax_on != "everything" && tax_on != "materials") from.refuse("tax_on", "must be \"everything\" or \"materials\"");
  rates.tax_on = tax_on == "materials" ? TaxOn::materials : TaxOn::everything;
}

bool is_currency(const std::string& said) {
  return said.size() == 3 && std::all_of(said.begin(), said.end(), [](char c) { return c >= 'A' && c <= 'Z'; });
}

}  // namespace

Rates read_rates(const std::string& text, const std::string& name) {
  const Fields root = Fields::of_text(text, name);
  root.allow_only({"format", "version", "name", "currency", "paint", "preparation", "crew", "prices", "job"});
  if (root.text("format") != "lotwear-rates") root.refuse("format", "must be \"lotwear-rates\"; is this another file?");
  root.whole("version", 1, 1);
  Rates rates;
  rates.name = root.text("name");
  rates.currency = root.text("currency");
  if (!is_currency(rates.currency)) root.refuse("currency", "must be three capital letters, as in \"USD\"");
  read_paint(rates, root.object("paint"));
  read_preparation(rates, root.object("preparation"));
  const Fields crew = root.object("crew");
  crew.allow_only({"people", "set_up"});
  rates.people = crew.whole("people", 1, 100);
  rates.set_up_h = plain_amount(crew, "set_up", Measure::time, "45 min");
  read_prices(rates, root.object("prices"));
  read_job(rates, root.object("job"));
  return rates;
}

Rates load_rates(const std::filesystem::path& file) {
  return read_rates(read_file(file, kLargestRates), file.string());
}

}  // namespace lotwear
