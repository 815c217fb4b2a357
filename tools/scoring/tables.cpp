#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "scoring/score.hpp"

namespace lotwear::scoring {

namespace {

std::string share(int part, int whole) {
  return whole > 0 ? fmt::format("{:.1f} % ({}/{})", 100.0 * part / whole, part, whole) : "-";
}
std::string shown(const Spread& s, const char* unit) {
  return s.n > 0 ? fmt::format("{:.2f}{} / {:.1f} / {:.1f}", s.mean, unit, s.p90, s.worst) : "-";
}

std::map<std::string, std::vector<SceneScore>> by_tier(const Scores& result) {
  std::map<std::string, std::vector<SceneScore>> tiers;
  for (const SceneScore& s : result.scenes)
    tiers[s.tier].push_back(s);
  return tiers;
}

}  // namespace

std::string scene_table(const Scores& result) {
  std::string out = "scene                  truths found false  error mean  worst  actions same\n";
  for (const SceneScore& s : result.scenes) {
    const Totals t = total({s});
    out += fmt::format("{:<22} {:>6} {:>5} {:>5}  {:>10} {:>6}  {}\n", s.scene, t.truths, t.found, t.alarms,
                       t.found > 0 ? fmt::format("{:.1f}", t.remaining.mean) : "-",
                       t.found > 0 ? fmt::format("{:.1f}", t.remaining.worst) : "-", share(t.same_action, t.found));
  }
  return out;
}

std::string total_table(const Scores& result) {
  const auto tiers = by_tier(result);
  std::vector<std::string> heads;
  std::vector<Totals> totals;
  for (const auto& [tier, scenes] : tiers) {
    heads.push_back(tier);
    totals.push_back(total(scenes));
  }
  if (tiers.size() > 1) {
    heads.push_back("all");
    totals.push_back(total(result.scenes));
  }
  std::string out = "| |";
  for (const std::string& h : heads)
    out += fmt::format(" {} |", h);
  out += "\n|---|";
  for (std::size_t i = 0; i < heads.size(); ++i)
    out += "---|";
  out += "\n";
  const auto row = [&](const char* name, auto&& cell) {
    out += fmt::format("| {} |", name);
    for (const Totals& t : totals)
      out += fmt::format(" {} |", cell(t));
    out += "\n";
  };
  row("photos, markings", [](const Totals& t) { return fmt::format("{}, {}", t.photos, t.truths); });
  row("found", [](const Totals& t) { return share(t.found, t.truths); });
  row("false alarms a photo",
      [](const Totals& t) { return fmt::format("{:.2f}", t.photos > 0 ? 1.0 * t.alarms / t.photos : 0); });
  row("pieces a photo",
      [](const Totals& t) { return fmt::format("{:.2f}", t.photos > 0 ? 1.0 * t.pieces / t.photos : 0); });
  row("remaining, error in points: mean / p90 / worst", [](const Totals& t) { return shown(t.remaining, ""); });
  row("truth inside the interval, its mean width", [](const Totals& t) {
    return t.found > 0 ? fmt::format("{:.0f} %, {:.1f} points", 100 * t.inside_interval, t.interval_width)
                       : std::string("-");
  });
  for (const auto& [name, areas] :
       {std::pair{"with sheet", &Totals::with_sheet}, {"without", &Totals::without_sheet}}) {
    row(fmt::format("area {}, error: mean / p90 / worst", name).c_str(),
        [&](const Totals& t) { return shown((t.*areas).said, " %"); });
    row(fmt::format("area {}, the plane's part; the outline's: mean / p90 / worst", name).c_str(),
        [&](const Totals& t) { return shown((t.*areas).by_plane, " %") + "; " + shown((t.*areas).by_outline, " %"); });
    row(fmt::format("area {}, true one in the stated 90 %", name).c_str(), [&](const Totals& t) {
      return (t.*areas).said.n > 0 ? fmt::format("{:.0f} %", 100 * (t.*areas).inside) : std::string("-");
    });
  }
  row("same action", [](const Totals& t) { return share(t.same_action, t.found); });
  row("same action, none near a threshold", [](const Totals& t) { return share(t.same_action_clear, t.clear_cases); });
  row("grinds, missed, false",
      [](const Totals& t) { return fmt::format("{}, {}, {}", t.grinds, t.grinds_missed, t.grinds_false); });
  row("same kind", [](const Totals& t) { return share(t.same_kind, t.found); });
  row("same colour", [](const Totals& t) { return share(t.same_colour, t.found); });
  row("same surface", [](const Totals& t) { return share(t.same_surface, t.found); });
  row("loss by cause, mean error in points; flaked alone", [](const Totals& t) {
    return t.found > 0 ? fmt::format("{:.1f}; {:.1f}", t.cause_error, t.flaked_error) : std::string("-");
  });
  row("faded, mean error in points",
      [](const Totals& t) { return t.found > 0 ? fmt::format("{:.1f}", t.faded_error) : std::string("-"); });
  if (std::any_of(totals.begin(), totals.end(), [](const Totals& t) { return t.twice > 0 || t.wrongly_joined > 0; }))
    row("seen in two photos, counted once; counted with another",
        [](const Totals& t) { return fmt::format("{}; {}", share(t.counted_once, t.twice), t.wrongly_joined); });
  if (result.seconds_per_photo > 0) out += fmt::format("\n{:.2f} seconds a photo\n", result.seconds_per_photo);
  return out;
}

std::string marking_table(const Scores& result) {
  std::string out =
      "scene                  marking  kind                  remaining: true  measured  interval      action: true     "
      "   said\n";
  for (const SceneScore& s : result.scenes) {
    for (const MarkingScore& m : s.markings) {
      out += fmt::format("{:<22} {:<8} {:<21} {:>14.1f}  ", s.scene, m.truth_id, word(m.kind), m.remaining);
      if (!m.found) {
        out += "not found\n";
        continue;
      }
      out +=
          fmt::format("{:>8.1f}  {:>5.1f}..{:<5.1f}  {:<18}  {}{}\n", m.remaining_said, m.low, m.high, word(m.action),
                      word(m.action_said), m.kind_said == m.kind ? "" : fmt::format("  (as {})", word(m.kind_said)));
    }
    for (const std::string& id : s.alarm_ids)
      out += fmt::format("{:<22} {} lies on no marking\n", s.scene, id);
  }
  return out;
}

std::string comparison(const Scores& before, const Scores& after) {
  std::map<std::string, const SceneScore*> earlier;
  for (const SceneScore& s : before.scenes)
    earlier[s.scene] = &s;
  std::string out = "scene                  found        false        error mean\n";
  std::vector<double> changes;
  std::vector<SceneScore> both_before, both_after;
  for (const SceneScore& now : after.scenes) {
    const auto then = earlier.find(now.scene);
    if (then == earlier.end()) continue;
    both_before.push_back(*then->second);
    both_after.push_back(now);
    const Totals a = total({*then->second}), b = total({now});
    for (const MarkingScore& m : now.markings) {
      for (const MarkingScore& old : then->second->markings) {
        if (m.truth_id == old.truth_id && m.found && old.found) {
          changes.push_back(std::abs(m.remaining_said - m.remaining) - std::abs(old.remaining_said - old.remaining));
        }
      }
    }
    if (a.found == b.found && a.alarms == b.alarms && std::abs(a.remaining.mean - b.remaining.mean) < 0.05) continue;
    out += fmt::format("{:<22} {:>2} -> {:<2}     {:>2} -> {:<2}     {:>5.1f} -> {:.1f}\n", now.scene, a.found, b.found,
                       a.alarms, b.alarms, a.remaining.mean, b.remaining.mean);
  }
  double mean = 0, square = 0;
  for (const double c : changes)
    mean += c;
  if (!changes.empty()) mean /= static_cast<double>(changes.size());
  for (const double c : changes)
    square += (c - mean) * (c - mean);
  const double n = static_cast<double>(changes.size()), error = n > 1 ? std::sqrt(square / (n - 1) / n) : 0;
  out += fmt::format(
      "\n{} scenes in both. Remaining, error of the {} markings found in both: {:+.2f} points, standard error "
      "{:.2f}\n\n",
      both_after.size(), changes.size(), mean, error);
  out += "before\n" + total_table({before.made_by, before.seconds_per_photo, both_before});
  out += "\nafter\n" + total_table({after.made_by, after.seconds_per_photo, both_after});
  return out;
}

}  // namespace lotwear::scoring
