#include "views/report_content.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "views/report_bid.hpp"
#include "views/report_card.hpp"
#include "views/report_guidance.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

constexpr std::array kActionsByWork = {Action::grind_and_repaint, Action::repaint, Action::no_action};

/// "11 April 2026", "11 April 2026 to 12 April 2026", empty when no photo knows.
std::string when_taken(const Survey& survey) {
  std::set<std::string> days;
  for (const SurveyPhoto& photo : survey.photos) {
    if (photo.taken && photo.taken->size() >= 10) days.insert(photo.taken->substr(0, 10));
  }
  if (days.empty()) return "";
  if (days.size() == 1) return date_words(*days.begin());
  return fmt::format("{} to {}", date_words(*days.begin()), date_words(*days.rbegin()));
}

std::string work_sentence(const std::vector<ReportCount>& counts) {
  const int grind = counts[0].count, repaint = counts[1].count, leave = counts[2].count;
  std::vector<std::string> parts;
  if (grind > 0)
    parts.push_back(fmt::format("{} {} to be ground down and repainted", grind, grind == 1 ? "has" : "have"));
  if (repaint > 0) parts.push_back(fmt::format("{} {} a new coat", repaint, repaint == 1 ? "needs" : "need"));
  if (leave > 0) parts.push_back(fmt::format("{} can stay as {}", leave, leave == 1 ? "it is" : "they are"));
  return listed(parts) + ".";
}

std::vector<std::string> confirmed_ids(const Survey& survey, const std::vector<ReportCard>& cards) {
  std::vector<std::string> ids;
  for (const SurveyMarking& marking : survey.markings) {
    const bool shown =
        std::any_of(cards.begin(), cards.end(), [&](const ReportCard& card) { return card.id == marking.id; });
    if (shown && marking.person().confirmed.value_or(false)) ids.push_back(marking.id);
  }
  return ids;
}

std::vector<std::string> summary_of(const Survey& survey, const ReportContent& content,
                                    const std::optional<Estimate>& estimate, RatesFrom rates) {
  const int markings = static_cast<int>(content.cards.size()), photos = static_cast<int>(survey.photos.size());
  const std::string when = when_taken(survey);
  const std::string where =
      fmt::format("{}{}{}", counted(photos, "photo", "photos"), when.empty() ? "" : ", taken ", when);
  if (markings == 0) return {fmt::format("No marking could be measured in {}.", where)};

  std::vector<std::string> sentences = {
      fmt::format("{} measured in {}.", counted(markings, "marking was", "markings were"), where),
      work_sentence(content.counts)};
  const ReportCard& first = content.cards.front();
  if (first.action != Action::no_action) {
    sentences.push_back(fmt::format("First in line is the {} {}, with {} of its paint left.", first.name, first.id,
                                    percent_words(first.remaining)));
  }
  const auto doubtful = std::count_if(content.cards.begin(), content.cards.end(),
                                      [](const ReportCard& card) { return !card.review_words.empty(); });
  if (const std::vector<std::string> ids = confirmed_ids(survey, content.cards); ids.size() == content.cards.size()) {
    sentences.emplace_back("A person has confirmed every one of them.");
  } else if (!ids.empty()) {
    sentences.push_back(fmt::format(
        "A person has confirmed {}; the other {}.", listed(ids),
        counted(markings - static_cast<int>(ids.size()), "is as it was measured", "are as they were measured")));
  }
  if (doubtful > 0) {
    sentences.push_back(fmt::format("{} set aside for a person to look at before the work is settled.",
                                    counted(static_cast<int>(doubtful), "marking is", "markings are")));
  }
  if (estimate && !estimate->prices.empty()) {
    sentences.push_back(fmt::format(
        "{} comes to {}{}.", rates == RatesFrom::example ? "By example rates, the work" : "The work",
        money_words(estimate->total_cents, estimate->currency), estimate->tax_cents != 0 ? ", tax included" : ""));
  }
  return sentences;
}

std::vector<ReportCount> counts_of(const Survey& survey, const std::vector<ReportCard>& cards, Units units) {
  std::vector<ReportCount> counts;
  for (const Action action : kActionsByWork) {
    ReportCount count{action, 0, action_title(action), action_meaning(action), ""};
    double area = 0;
    int with_size = 0;
    for (const ReportCard& card : cards) {
      if (card.action != action) continue;
      ++count.count;
      const auto marking = std::find_if(survey.markings.begin(), survey.markings.end(),
                                        [&](const SurveyMarking& m) { return m.id == card.id; });
      const std::optional<Size> size = size_of(*marking, survey);
      if (size) area += size->area_m2, ++with_size;
    }
    if (with_size > 0) count.area = area_words(area, units);
    if (with_size > 0 && with_size < count.count) {
      count.area += fmt::format(", {} without size", count.count - with_size);
    }
    counts.push_back(count);
  }
  return counts;
}

ReportPhoto photo_entry(const SurveyPhoto& photo, const Survey& survey) {
  ReportPhoto entry;
  entry.file = photo.file;
  entry.taken = photo.taken ? time_words(*photo.taken) : "not recorded";
  entry.position = "not recorded";
  if (photo.position) {
    entry.position = fmt::format("{:.6f}, {:.6f}", photo.position->lat, photo.position->lon);
    if (photo.position->error_m) entry.position += fmt::format(" \u00b1\u00a0{:.0f}\u00a0m", *photo.position->error_m);
  }
  entry.pixels = fmt::format("{} \u00d7 {}", photo.width, photo.height);
  entry.plane = photo.plane ? plane_words(photo.plane->source) : "not found";
  if (photo.plane && photo.plane->scale_error_percent) {
    entry.plane += fmt::format(" (lengths \u00b1\u00a0{:.1f}\u00a0%)", *photo.plane->scale_error_percent);
  }
  entry.sha256 = photo.sha256;
  entry.advice = photo.advice;
  std::vector<std::string> ids;
  for (const SurveyMarking& marking : survey.markings) {
    if (marking.photo == photo.file) ids.push_back(marking.id);
  }
  entry.markings = ids.empty() ? "none" : listed(ids);
  return entry;
}

std::vector<PlanMark> marks_of(const std::vector<ReportCard>& cards, const Survey& survey) {
  std::vector<PlanMark> marks;
  for (const ReportCard& card : cards) {
    const auto marking = std::find_if(survey.markings.begin(), survey.markings.end(),
                                      [&](const SurveyMarking& m) { return m.id == card.id; });
    marks.push_back({card.id, marking->photo, card.action});
  }
  return marks;
}

/// "2026-04-11T09:02:00"
bool is_time(const std::string& iso) {
  constexpr std::string_view kForm = "dddd-dd-ddTdd:dd:dd";
  if (iso.size() < kForm.size()) return false;
  for (std::size_t i = 0; i < kForm.size(); ++i) {
    const bool digit = iso[i] >= '0' && iso[i] <= '9';
    if (kForm[i] == 'd' ? !digit : iso[i] != kForm[i]) return false;
  }
  return true;
}

std::vector<ReportFact> site_facts(const Survey& survey, const ReportSettings& settings) {
  std::vector<ReportFact> facts;
  if (settings.title && survey.site.name) facts.push_back({"Site", *survey.site.name});
  if (survey.site.address) facts.push_back({"Address", *survey.site.address});
  if (survey.site.client) facts.push_back({"For", *survey.site.client});
  if (const std::string when = when_taken(survey); !when.empty()) facts.push_back({"Photographed", when});
  if (!settings.date.empty()) facts.push_back({"Report of", date_words(settings.date)});
  return facts;
}

}  // namespace

ReportContent report_content(const Survey& survey, const Policy& policy, const std::optional<Estimate>& estimate,
                             const std::filesystem::path& folder, const ReportSettings& settings,
                             const std::vector<Estimate>& options) {
  ReportContent content;
  content.title = settings.title.value_or(survey.site.name.value_or("Pavement markings"));
  content.program = "lotwear " + survey.made_by_version;
  content.copy = settings.copy;
  if (settings.copy == Copy::contractor)
    content.copy_words = "Contractor's copy: costs and margin inside, not for the owner";
  for (const SurveyPhoto& photo : survey.photos) {
    if (photo.taken && is_time(*photo.taken)) content.date = std::max(content.date, *photo.taken);
  }
  if (content.date.empty()) content.date = settings.date;
  content.site = site_facts(survey, settings);
  content.repaint_below = percent(policy.repaint_below);

  Hazards hazards;
  for (const SurveyMarking& marking : survey.markings) {
    if (is_false_alarm(marking)) {
      content.not_counted.push_back(fmt::format("{} in {} is no marking, a person found.", marking.id, marking.photo));
      continue;
    }
    if (const auto other = repeats(marking)) {
      content.not_counted.push_back(
          fmt::format("{} in {} is the same paint as {}.", marking.id, marking.photo, *other));
      continue;
    }
    content.cards.push_back(report_card(marking, survey, policy, folder, settings.units));
    const Hazards own = hazards_of(marking, content.cards.back().action);
    hazards.grinding = hazards.grinding || own.grinding;
    hazards.yellow = hazards.yellow || own.yellow;
  }
  std::stable_sort(content.cards.begin(), content.cards.end(), [](const ReportCard& a, const ReportCard& b) {
    return a.priority != b.priority ? a.priority > b.priority : a.id < b.id;
  });
  for (std::size_t i = 0; i < content.cards.size(); ++i)
    content.cards[i].rank = static_cast<int>(i) + 1;

  content.counts = counts_of(survey, content.cards, settings.units);
  content.summary = summary_of(survey, content, estimate, settings.rates);
  content.plan = site_plan(survey, marks_of(content.cards, survey), settings.units);
  if (estimate) add_bid(content, *estimate, options, settings);
  content.method = method_sections(survey, policy);
  content.cautions = caution_sections(hazards);
  for (const SurveyPhoto& photo : survey.photos)
    content.photos.push_back(photo_entry(photo, survey));
  content.problems = survey.problems;
  return content;
}

}  // namespace lotwear
