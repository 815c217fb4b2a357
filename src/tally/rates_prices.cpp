#include "tally/rates_fields.hpp"

namespace lotwear {

namespace {

Price extra_price(const Fields& from, std::string_view name, const std::string& currency) {
  const WrittenAmount amount = amount_of(from, name, "90.00 " + currency);
  if (!amount.per.empty()) return price_of(from, name, currency, {Measure::each, Measure::time}, "h");
  return {sum_of_money(from, name, currency), {"job", Measure::each, 1}, from.path_to(name)};
}

Extra extra_of(const Fields& from, const std::string& what, const std::string& currency) {
  from.allow_only({"price", "cost", "when"});
  Extra extra;
  extra.what = what;
  extra.price = extra_price(from, "price", currency);
  if (from.has("cost")) {
    const Price cost = extra_price(from, "cost", currency);
    if (cost.per.name != extra.price.per.name) from.refuse("cost", "must be per the same unit as `price`");
    extra.cost_cents = cost.cents;
  }
  const std::string when = from.text_if("when").value_or("always");
  if (when != "always" && when != "grinding") from.refuse("when", "must be \"always\" or \"grinding\"");
  extra.only_grinding = when == "grinding";
  return extra;
}

}  // namespace

void read_prices(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from,
             {"repaint", "grind", "repaint_without_size", "grind_without_size", "paint", "beads", "primer", "disposal",
              "markup"});
  const auto by_kind = [&](std::string_view name) {
    return entries_of(complaints, from.object(name), is_kind_entry, "kind of marking", true,
                      [&](const Fields& prices, const std::string& kind) {
                        return price_of(prices, kind, rates.currency,
                                        {Measure::each, Measure::length, Measure::area, Measure::time}, "sq ft");
                      });
  };
  const auto each_by_kind = [&](std::string_view name) -> std::map<std::string, Price> {
    const auto prices = from.object_if(name);
    if (!prices) return {};
    return entries_of(complaints, *prices, is_kind_entry, "kind of marking", false,
                      [&](const Fields& each, const std::string& kind) {
                        return price_of(each, kind, rates.currency, {Measure::each}, "each");
                      });
  };
  complaints.unless([&] { rates.repaint = by_kind("repaint"); });
  complaints.unless([&] { rates.grind = by_kind("grind"); });
  complaints.unless([&] { rates.repaint_without_size = each_by_kind("repaint_without_size"); });
  complaints.unless([&] { rates.grind_without_size = each_by_kind("grind_without_size"); });
  complaints.unless([&] {
    rates.paint = entries_of(complaints, from.object("paint"), is_colour_entry, "colour", true,
                             [&](const Fields& prices, const std::string& colour) {
                               return price_of(prices, colour, rates.currency, {Measure::volume}, "gal");
                             });
  });
  complaints.unless([&] {
    if (from.has("beads")) rates.beads = price_of(from, "beads", rates.currency, {Measure::mass}, "lb");
    if (rates.beads_kg_per_l && !rates.beads) from.refuse("beads", "is missing, but paint.beads asks for beads");
  });
  complaints.unless([&] {
    if (from.has("primer")) rates.primer_price = price_of(from, "primer", rates.currency, {Measure::volume}, "gal");
    if (rates.primer && !rates.primer_price) from.refuse("primer", "is missing, but paint.primer asks for primer");
  });
  complaints.unless([&] {
    if (from.has("disposal")) rates.disposal = price_of(from, "disposal", rates.currency, {Measure::volume}, "gal");
  });
  complaints.unless([&] {
    if (from.has("markup")) rates.markup_hundredths_of_percent = hundredths_of_percent(from, "markup", "20 %", 1000);
  });
}

void read_extras(Complaints& complaints, Rates& rates, const Fields& from) {
  constexpr std::size_t kMostExtras = 50;
  complaints.unless([&] {
    if (from.names().size() > kMostExtras) throw Failure("extras: more than 50 entries; put some of them together");
  });
  for (const std::string& what : from.names()) {
    complaints.unless([&] { rates.extras.push_back(extra_of(from.object(what), what, rates.currency)); });
  }
}

void read_job(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from, {"mobilisation", "minimum", "night", "weekend", "discount", "tax", "tax_on"});
  complaints.unless([&] { rates.mobilisation_cents = sum_of_money(from, "mobilisation", rates.currency); });
  complaints.unless([&] { rates.minimum_cents = sum_of_money(from, "minimum", rates.currency); });
  const auto share_if = [&](std::string_view name, std::string_view example, int most, std::int64_t& into) {
    complaints.unless([&] {
      if (from.has(name)) into = hundredths_of_percent(from, name, example, most);
    });
  };
  share_if("night", "25 %", 1000, rates.night_hundredths_of_percent);
  share_if("weekend", "15 %", 1000, rates.weekend_hundredths_of_percent);
  share_if("discount", "5 %", 100, rates.discount_hundredths_of_percent);
  complaints.unless([&] { rates.tax_hundredths_of_percent = hundredths_of_percent(from, "tax", "8.25 %", 100); });
  complaints.unless([&] {
    const std::string tax_on = from.text("tax_on");
    if (tax_on != "everything" && tax_on != "materials")
      from.refuse("tax_on", "must be \"everything\" or \"materials\"");
    rates.tax_on = tax_on == "materials" ? TaxOn::materials : TaxOn::everything;
  });
}

void read_costs(Complaints& complaints, Rates& rates, const Fields& from) {
  known_only(complaints, from, {"person", "site", "mobilisation"});
  Costs costs;
  const auto per_hour = [&](std::string_view name, std::int64_t& into) {
    complaints.unless([&] {
      const Price price = price_of(from, name, rates.currency, {Measure::time}, "h");
      if (price.per.size != 1) from.refuse(name, "must be per hour, as in \"38.00 " + rates.currency + "/h\"");
      into = price.cents;
    });
  };
  per_hour("person", costs.person_hour_cents);
  per_hour("site", costs.site_hour_cents);
  complaints.unless([&] { costs.mobilisation_cents = sum_of_money(from, "mobilisation", rates.currency); });
  rates.costs = costs;
}

}  // namespace lotwear
