#include <algorithm>

#include "base/files.hpp"
#include "tally/rates_fields.hpp"

namespace lotwear {

namespace {

constexpr std::size_t kLargestRates = 1 << 20;

void read_containers(Rates& rates, const Fields& from) {
  for (const std::string& text : from.texts("containers")) {
    const auto amount = read_amount(text);
    const auto unit = amount ? unit_named(amount->unit) : std::nullopt;
    if (!unit || unit->of != Measure::volume || !amount->per.empty() || !(amount->value > 0)) {
      from.refuse("containers", fmt::format("must list volumes, as in [\"5 gal\", \"1 gal\"], not \"{}\"", text));
    }
    rates.containers.push_back(*amount);
  }
  constexpr std::size_t kMostSizes = 6;
  if (rates.containers.size() > kMostSizes) from.refuse("containers", "must not list more than 6 sizes");
  const auto litres = [](const WrittenAmount& one) { return one.value * unit_named(one.unit)->size; };
  std::stable_sort(rates.containers.begin(), rates.containers.end(),
                   [&](const auto& one, const auto& other) { return litres(one) > litres(other); });
}

void read_primer(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from, {"on", "wet_film", "drying", "pace"});
  Primer primer;
  complaints.unless([&] {
    for (const std::string& name : from.texts("on")) {
      const auto surface = surface_from(name);
      if (!surface) from.refuse("on", fmt::format("names \"{}\", which is no surface", name));
      primer.on.insert(*surface);
    }
  });
  complaints.unless([&] {
    primer.wet_film_m = positive(from, "wet_film", plain_amount(from, "wet_film", Measure::length, "5 mil"));
  });
  complaints.unless([&] { primer.drying_h = plain_amount(from, "drying", Measure::time, "20 min"); });
  complaints.unless([&] { primer.m2_per_h = pace_of(from, "pace", {Measure::area}, "300 sq ft/h").per_hour; });
  rates.primer = primer;
}

void read_paint(Complaints& complaints, Rates& rates, const Fields& from) {
  constexpr double kThickestM = 0.01;
  known_only(complaints, from, {"wet_film", "coats", "waste", "beads", "drying", "containers", "primer", "painting"});
  complaints.unless([&] {
    rates.wet_film_m = positive(from, "wet_film", plain_amount(from, "wet_film", Measure::length, "15 mil"));
    if (rates.wet_film_m > kThickestM) from.refuse("wet_film", "is thicker than 10 mm; is the unit right?");
  });
  complaints.unless([&] { rates.coats = from.whole("coats", 1, 10); });
  complaints.unless(
      [&] { rates.waste = {static_cast<double>(hundredths_of_percent(from, "waste", "10 %", 100)) / 10000}; });
  complaints.unless([&] {
    if (!from.has("beads")) return;
    const WrittenAmount amount = amount_of(from, "beads", "6 lb/gal");
    rates.beads_kg_per_l = amount.value * unit_of(from, "beads", amount.unit, {Measure::mass}).size /
                           unit_of(from, "beads", amount.per, {Measure::volume}).size;
  });
  complaints.unless([&] { rates.drying_h = plain_amount(from, "drying", Measure::time, "10 min"); });
  complaints.unless([&] {
    if (from.has("containers")) read_containers(rates, from);
  });
  complaints.unless([&] {
    if (const auto primer = from.object_if("primer")) read_primer(complaints, rates, *primer);
  });
  complaints.unless([&] {
    rates.painting =
        entries_of(complaints, from.object("painting"), is_kind_entry, "kind of marking", true,
                   [](const Fields& paces, const std::string& name) {
                     return pace_of(paces, name, {Measure::each, Measure::length, Measure::area}, "60 sq ft/h");
                   });
  });
}

void read_weather(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from, {"lowest", "highest", "above_dew_point", "dry_before", "dry_after"});
  Weather& weather = rates.weather;
  complaints.unless([&] {
    if (from.has("lowest")) weather.lowest_c = temperature_of(from, "lowest");
  });
  complaints.unless([&] {
    if (from.has("highest")) weather.highest_c = temperature_of(from, "highest");
    if (weather.highest_c && weather.lowest_c && *weather.highest_c <= *weather.lowest_c)
      from.refuse("highest", "must be above `lowest`");
  });
  complaints.unless([&] {
    if (from.has("above_dew_point")) weather.above_dew_point_c = degrees_apart(from, "above_dew_point");
  });
  complaints.unless([&] {
    if (from.has("dry_before")) weather.dry_before_h = plain_amount(from, "dry_before", Measure::time, "4 h");
  });
  complaints.unless([&] {
    if (from.has("dry_after")) weather.dry_after_h = plain_amount(from, "dry_after", Measure::time, "1 h");
  });
}

void read_method(Complaints& complaints, Grinding& grinding, const Fields& method, bool chosen) {
  known_only(complaints, method, {"pace", "passes", "passes_each_older_coat", "depth"});
  Grinding one;
  complaints.unless([&] { one.m2_per_h = pace_of(method, "pace", {Measure::area}, "75 sq ft/h").per_hour; });
  complaints.unless([&] { one.passes = method.whole("passes", 1, 20); });
  complaints.unless([&] { one.passes_each_older_coat = method.whole_if("passes_each_older_coat", 0, 20).value_or(0); });
  complaints.unless([&] {
    if (method.has("depth")) one.depth_m = plain_amount(method, "depth", Measure::length, "10 mil");
    if (one.depth_m > 0.05) method.refuse("depth", "is deeper than 50 mm; is the unit right?");
  });
  if (!chosen) return;
  grinding.m2_per_h = one.m2_per_h, grinding.passes = one.passes;
  grinding.passes_each_older_coat = one.passes_each_older_coat, grinding.depth_m = one.depth_m;
}

void read_grinding(Complaints& complaints, Rates& rates, const Fields& from) {
  constexpr double kWidestMarginM = 1;
  known_only(complaints, from, {"method", "margin", "collecting", "methods"});
  Grinding& grinding = rates.grinding;
  complaints.unless([&] { grinding.method = from.text("method"); });
  complaints.unless([&] {
    grinding.margin_m = plain_amount(from, "margin", Measure::length, "1 in");
    if (grinding.margin_m > kWidestMarginM) from.refuse("margin", "is wider than a metre; is the unit right?");
  });
  complaints.unless([&] {
    if (from.has("collecting"))
      grinding.collecting_m2_per_h = pace_of(from, "collecting", {Measure::area}, "600 sq ft/h").per_hour;
  });
  complaints.unless([&] {
    const Fields methods = from.object("methods");
    for (const std::string& name : methods.names()) {
      complaints.unless([&] { read_method(complaints, grinding, methods.object(name), name == grinding.method); });
    }
    if (!grinding.method.empty() && !methods.has(grinding.method))
      from.refuse("method", fmt::format("is \"{}\", which `methods` does not list", grinding.method));
  });
}

void read_preparation(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from, {"cleaning", "masking", "masked_kinds", "surface_drying", "grinding"});
  complaints.unless(
      [&] { rates.cleaning_m2_per_h = pace_of(from, "cleaning", {Measure::area}, "3000 sq ft/h").per_hour; });
  complaints.unless([&] { rates.masking_m_per_h = pace_of(from, "masking", {Measure::length}, "300 ft/h").per_hour; });
  complaints.unless([&] {
    if (from.has("surface_drying"))
      rates.surface_drying_m2_per_h = pace_of(from, "surface_drying", {Measure::area}, "1000 sq ft/h").per_hour;
  });
  complaints.unless([&] {
    for (const std::string& name : from.texts("masked_kinds")) {
      if (!is_kind_entry(name))
        from.refuse("masked_kinds", fmt::format("names \"{}\", which is no kind of marking", name));
      for (std::size_t i = 0; i < kKindWords.size(); ++i) {
        const Kind kind = static_cast<Kind>(i);
        if (word(kind) == name || (name == "arrow" && is_arrow(kind))) rates.masked.insert(kind);
      }
    }
  });
  complaints.unless([&] { read_grinding(complaints, rates, from.object("grinding")); });
}

/// "1 bay", "2 bays", "1 lane", "none".
Closed closed_of(const Fields& from, const std::string& name) {
  const std::string written = from.text(name);
  if (written == "none") return {};
  constexpr int kMostClosed = 20;
  for (int count = 1; count <= kMostClosed; ++count) {
    if (written == fmt::format("{} {}", count, count == 1 ? "bay" : "bays")) return {count, 0};
    if (written == fmt::format("{} {}", count, count == 1 ? "lane" : "lanes")) return {0, count};
  }
  from.refuse(name, fmt::format("must be as in \"1 bay\", \"2 lanes\" or \"none\", not \"{}\"", written));
}

void read_crew(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from, {"people", "set_up", "pack_up", "day", "grinders", "sprayers", "closes"});
  Crew& crew = rates.crew;
  complaints.unless([&] { crew.people = from.whole("people", 1, 100); });
  complaints.unless([&] { crew.set_up_h = plain_amount(from, "set_up", Measure::time, "45 min"); });
  complaints.unless([&] {
    if (from.has("pack_up")) crew.pack_up_h = plain_amount(from, "pack_up", Measure::time, "30 min");
  });
  complaints.unless([&] {
    if (from.has("day")) crew.day_h = plain_amount(from, "day", Measure::time, "8 h");
    if (crew.day_h > 24 || crew.day_h < crew.set_up_h + crew.pack_up_h + 1)
      from.refuse("day", "must leave at least an hour between set-up and packing up, and have no more than 24 h");
  });
  complaints.unless([&] { crew.grinders = from.whole_if("grinders", 1, 100).value_or(1); });
  complaints.unless([&] { crew.sprayers = from.whole_if("sprayers", 1, 100).value_or(1); });
  complaints.unless([&] {
    if (const auto closes = from.object_if("closes"))
      crew.closes = entries_of(complaints, *closes, is_kind_entry, "kind of marking", true, closed_of);
  });
}

bool is_currency(const std::string& said) {
  return said.size() == 3 && std::all_of(said.begin(), said.end(), [](char c) { return c >= 'A' && c <= 'Z'; });
}

void read_options(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from, {"safety_from"});
  complaints.unless([&] { rates.safety_from = from.number_if("safety_from", 0, 1).value_or(rates.safety_from); });
}

template <class Read>
void section(Complaints& complaints, Rates& rates, const Fields& root, std::string_view name, Read read) {
  complaints.unless([&] { read(complaints, rates, root.object(name)); });
}

template <class Read>
void section_if(Complaints& complaints, Rates& rates, const Fields& root, std::string_view name, Read read) {
  complaints.unless([&] {
    if (const auto fields = root.object_if(name)) read(complaints, rates, *fields);
  });
}

Rates read_all(const std::string& text, const std::string& name, Complaints& complaints) {
  const Fields root = Fields::of_text(text, name);
  if (root.text("format") != "lotwear-rates") root.refuse("format", "must be \"lotwear-rates\"; is this another file?");
  root.whole("version", 1, 1);
  known_only(complaints, root,
             {"format", "version", "name", "currency", "paint", "weather", "preparation", "crew", "prices", "extras",
              "job", "costs", "options"});
  Rates rates;
  complaints.unless([&] { rates.name = root.text("name"); });
  complaints.unless([&] {
    rates.currency = root.text("currency");
    if (!is_currency(rates.currency)) root.refuse("currency", "must be three capital letters, as in \"USD\"");
  });
  section(complaints, rates, root, "paint", read_paint);
  section_if(complaints, rates, root, "weather", read_weather);
  section(complaints, rates, root, "preparation", read_preparation);
  section(complaints, rates, root, "crew", read_crew);
  section(complaints, rates, root, "prices", read_prices);
  section_if(complaints, rates, root, "extras", read_extras);
  section(complaints, rates, root, "job", read_job);
  section_if(complaints, rates, root, "costs", read_costs);
  section_if(complaints, rates, root, "options", read_options);
  return rates;
}

}  // namespace

Rates read_rates(const std::string& text, const std::string& name) {
  Complaints complaints;
  Rates rates = read_all(text, name, complaints);
  if (!complaints.all().empty()) throw Failure(complaints.all().front());
  return rates;
}

std::vector<std::string> rates_complaints(const std::string& text, const std::string& name) {
  Complaints complaints;
  complaints.unless([&] { read_all(text, name, complaints); });
  return complaints.all();
}

Rates load_rates(const std::filesystem::path& file) {
  return read_rates(read_file(file, kLargestRates), file.string());
}

std::vector<std::string> check_rates(const std::filesystem::path& file) {
  return rates_complaints(read_file(file, kLargestRates), file.string());
}

}  // namespace lotwear
