#include "views/report_bid.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "views/report_drawings.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

std::string title_of(Kind kind, bool field) { return field ? "Field under a marking" : kind_title(kind); }

ReportTable quantity_table(const Estimate& estimate, Units units) {
  ReportTable table{
      {"Marking", "Colour", "Surface", "Work", "Count", "Length", "Width", "Area", "Masking", "Paint", "Grinding"},
      {false, false, false, false, true, true, true, true, true, true, true},
      {}};
  const auto unless_zero = [](double amount, const std::string& words) { return amount > 0 ? words : "\u2013"; };
  for (const QuantityLine& line : estimate.quantities) {
    if (line.action == Action::no_action) continue;
    const bool no_size = line.without_size == line.count;
    const std::string count = line.without_size > 0 && !no_size
                                  ? fmt::format("{} ({} without size)", line.count, line.without_size)
                                  : std::to_string(line.count);
    table.rows.push_back({title_of(line.kind, line.fields), std::string(word(line.colour)),
                          std::string(word(line.surface)), action_title(line.action), count,
                          no_size ? "size not known" : unless_zero(line.length_m, length_words(line.length_m, units)),
                          unless_zero(line.width_m, length_words(line.width_m, units)),
                          unless_zero(line.area_m2, area_words(line.area_m2, units)),
                          unless_zero(line.masking_m, length_words(line.masking_m, units)),
                          unless_zero(line.paint_l, volume_words(line.paint_l, units)),
                          unless_zero(line.grind_m2, area_words(line.grind_m2, units))});
  }
  return table;
}

/// What the owner pays for: no formulas, which would tell the contractor's rates and margins.
ReportTable price_table(const Estimate& estimate) {
  ReportTable table{{"Item", "Quantity", "Unit", "Price", "Amount"}, {false, true, false, true, true}, {}};
  for (const PriceLine& line : estimate.prices) {
    const bool whole = std::abs(line.quantity - std::round(line.quantity)) < 1e-9;
    table.rows.push_back({line.what, number(line.quantity, whole ? 0 : 2), line.unit,
                          money_words(line.unit_price_cents, estimate.currency),
                          money_words(line.amount_cents, estimate.currency)});
  }
  return table;
}

std::vector<ReportFact> totals_of(const Estimate& estimate) {
  const auto money = [&](std::int64_t cents) { return money_words(cents, estimate.currency); };
  if (estimate.tax_cents == 0) return {{"Total", money(estimate.total_cents)}};
  return {{"Subtotal", money(estimate.subtotal_cents)},
          {"Tax", money(estimate.tax_cents)},
          {"Total", money(estimate.total_cents)}};
}

/// What has to be brought: paint in whole containers where the rates say which.
std::vector<std::string> materials(const Estimate& estimate, Units units) {
  std::vector<std::string> sentences, paints;
  const auto with_containers = [](std::string amount, const std::vector<std::string>& containers) {
    return containers.empty() ? amount : fmt::format("{} ({})", amount, listed(containers));
  };
  for (const PaintLine& line : estimate.paint) {
    if (line.paint_l <= 0) continue;
    paints.push_back(
        with_containers(fmt::format("{} {}", volume_words(line.paint_l, units), word(line.colour)), line.containers));
  }
  if (!paints.empty()) sentences.push_back("Paint to bring: " + listed(paints) + ".");
  if (estimate.primer_l > 0) {
    sentences.push_back(
        fmt::format("Primer for ground concrete: {}.",
                    with_containers(volume_words(estimate.primer_l, units), estimate.primer_containers)));
  }
  if (estimate.debris_l > 0) {
    sentences.push_back(
        fmt::format("Dust and chips to collect and take away: about {}.", volume_words(estimate.debris_l, units)));
  }
  return sentences;
}

ReportTable coldest_table(const CrewPlan& plan, Units units) {
  const auto degrees = [&](double celsius) {
    return number(units == Units::metric ? celsius : celsius * 9 / 5 + 32, 0) +
           (units == Units::metric ? "\u00a0\u00b0C" : "\u00a0\u00b0F");
  };
  ReportTable table{{"Humidity"}, {false}, {}};
  for (const CrewPlan::Coldest& one : plan.coldest) {
    if (one.humidity_percent != plan.coldest.front().humidity_percent) break;
    table.head.push_back("Air " + degrees(one.air_c));
    table.number.push_back(true);
  }
  for (const CrewPlan::Coldest& one : plan.coldest) {
    const std::string humidity = percent_words(one.humidity_percent);
    if (table.rows.empty() || table.rows.back().front() != humidity) table.rows.push_back({humidity});
    // Where dew forms on anything that is not warmer than the air, painting has to wait.
    table.rows.back().push_back(one.pavement_c > one.air_c ? "wait" : degrees(one.pavement_c));
  }
  return table;
}

ReportSchedule schedule_of(const Estimate& estimate, Units units) {
  const CrewPlan& plan = estimate.plan;
  ReportSchedule schedule;
  const std::string who = counted(plan.people, "person", "people");
  schedule.sentences.push_back(
      plan.days == 1 ? fmt::format("{}, on site for about {}, drying included.", who, duration_words(plan.on_site_h))
                     : fmt::format("{}, on site for about {} over {}, drying included.", who,
                                   duration_words(plan.on_site_h), counted(plan.days, "day", "days")));
  schedule.sentences.push_back(
      "One marking is ground or painted while another dries; the bars show when each task goes on somewhere on the "
      "lot.");
  std::vector<std::string> closed;
  if (plan.bays > 0) closed.push_back(counted(plan.bays, "bay", "bays"));
  if (plan.lanes > 0) closed.push_back(counted(plan.lanes, "lane", "lanes"));
  if (!closed.empty()) {
    schedule.sentences.push_back(
        fmt::format("{} closed in the course of the work, not all at once; each opens when its paint is dry.",
                    listed(closed) + (plan.bays + plan.lanes == 1 ? " is" : " are")));
  }
  schedule.tasks = {{"Task", "Hours of one person"}, {false, true}, {}};
  for (const auto& [task, hours] : plan.person_h)
    schedule.tasks.rows.push_back({task_words(task), number(hours, 2)});
  for (int day = 1; day <= plan.days; ++day)
    schedule.days.push_back(schedule_bar(plan, day));
  schedule.weather = plan.weather;
  if (!plan.coldest.empty()) schedule.coldest = coldest_table(plan, units);
  return schedule;
}

/// "3 lines to repaint stay (M005, M006, M010): cars stop keeping to their spaces and lanes."
std::vector<std::string> undone_of(const Estimate& option) {
  std::vector<std::pair<std::tuple<Kind, Action, bool>, std::vector<std::string>>> groups;  // in order of urgency
  for (const LeftUndone& one : option.left_undone) {
    if (one.action == Action::no_action) continue;
    const std::tuple key{one.kind, one.action, one.field};
    const auto at = std::find_if(groups.begin(), groups.end(), [&](const auto& group) { return group.first == key; });
    if (at == groups.end()) {
      groups.push_back({key, {one.id}});
    } else {
      at->second.push_back(one.id);
    }
  }
  std::vector<std::string> sentences;
  for (const auto& [key, ids] : groups) {
    const auto& [kind, action, field] = key;
    sentences.push_back(fmt::format(
        "{}, {} ({}): {}, and in the end {}.", title_of(kind, field), action == Action::repaint ? "worn" : "letting go",
        listed(ids), action == Action::repaint ? "they keep wearing" : "more of the old coat comes off",
        field ? "what lies on it no longer stands out" : harm(kind)));
  }
  const auto sound = std::count_if(option.left_undone.begin(), option.left_undone.end(),
                                   [](const LeftUndone& one) { return one.action == Action::no_action; });
  if (sound > 0) {
    sentences.push_back(fmt::format("{} still sound: nothing is lost by leaving {}.",
                                    counted(static_cast<int>(sound), "marking is", "markings are"),
                                    sound == 1 ? "it" : "them"));
  }
  return sentences;
}

ReportOption option_of(const Estimate& estimate, BidOption chosen) {
  ReportOption option;
  option.option = estimate.option;
  option.title = option_title(estimate.option);
  option.meaning = option_meaning(estimate.option);
  option.chosen = estimate.option == chosen;
  int done = 0;
  for (const QuantityLine& line : estimate.quantities)
    done += line.action == Action::no_action ? 0 : line.count;
  option.markings = counted(done, "marking", "markings");
  option.total = money_words(estimate.total_cents, estimate.currency);
  option.hours = done == 0 ? "\u2013" : duration_words(estimate.crew_h);
  const int left = static_cast<int>(estimate.left_undone.size());
  option.left = left == 0 ? "Nothing" : counted(left, "marking", "markings");
  option.undone = undone_of(estimate);
  return option;
}

ReportMargin margin_section(const Estimate& estimate) {
  const Margin& margin = *estimate.margin;
  const auto money = [&](std::int64_t cents) { return money_words(cents, estimate.currency); };
  ReportMargin section;
  section.costs = {{"Cost", "How it came about", "Amount"}, {false, false, true}, {}};
  for (const CostLine& line : margin.costs)
    section.costs.rows.push_back({line.what, line.formula, money(line.cents)});
  section.totals = {
      {"Cost", money(margin.cost_cents)},
      {"Price before tax", money(estimate.subtotal_cents)},
      {"Margin", fmt::format("{} ({})", money(margin.margin_cents), share_text(margin.margin_hundredths_of_percent))},
      {"Left over for each hour on site", money(margin.per_crew_hour_cents)}};
  section.meaning = "What is left of the price before tax when the job's own costs are paid.";
  return section;
}

ReportTable workings_table(const Estimate& estimate) {
  ReportTable table{{"Markings", "What", "Formula", "Rates"}, {false, false, false, false}, {}};
  for (const QuantityLine& line : estimate.quantities) {
    bool first = true;
    for (const Working& working : line.workings) {
      const std::string who = first ? fmt::format("{}, {} on {}: {}", title_of(line.kind, line.fields), word(line.colour),
                                                  word(line.surface), listed(line.markings))
                                    : "";
      first = false;
      table.rows.push_back({who, working.what, working.formula, fmt::format("{}", fmt::join(working.rates, ", "))});
    }
  }
  return table;
}

ReportTable price_workings_table(const Estimate& estimate) {
  ReportTable table{{"Item", "Formula", "Amount"}, {false, false, true}, {}};
  for (const PriceLine& line : estimate.prices)
    table.rows.push_back({line.what, line.formula, money_words(line.amount_cents, estimate.currency)});
  return table;
}

ReportSignature signature_of(const Estimate& estimate, const std::vector<ReportOption>& options) {
  ReportSignature signature;
  signature.statement =
      "The work is ordered as ticked here, at the price stated in this report. What is found under the old paint, and "
      "markings set aside for a person to look at, may change it; then both sides agree in writing before the work "
      "goes "
      "on.";
  for (const ReportOption& option : options)
    signature.choices.push_back(fmt::format("{}: {}", option.title, option.total));
  if (options.empty())
    signature.choices.push_back("As priced: " + money_words(estimate.total_cents, estimate.currency));
  signature.parties = {"For the owner", "For the contractor"};
  return signature;
}

}  // namespace

void add_bid(ReportContent& content, const Estimate& estimate, const std::vector<Estimate>& options,
             const ReportSettings& settings) {
  content.quantities = quantity_table(estimate, settings.units);
  content.work_summary = materials(estimate, settings.units);
  content.work_notes = estimate.notes;
  for (const Estimate& option : options)
    content.options.push_back(option_of(option, estimate.option));
  if (estimate.prices.empty()) return;
  content.prices = price_table(estimate);
  content.totals = totals_of(estimate);
  if (estimate.plan.days > 0) content.schedule = schedule_of(estimate, settings.units);
  if (settings.rates == RatesFrom::example) {
    content.price_warning =
        "These prices use the example rates that come with the program. They are not an offer: put in your own rates "
        "before this report leaves the house.";
  } else {
    content.signature = signature_of(estimate, content.options);
  }
  if (settings.copy == Copy::owner) return;
  if (estimate.margin) content.margin = margin_section(estimate);
  content.workings = workings_table(estimate);
  content.price_workings = price_workings_table(estimate);
}

}  // namespace lotwear
