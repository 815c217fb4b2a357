#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <nlohmann/json.hpp>

#include "base/files.hpp"
#include "policy/fields.hpp"
#include "survey/journal.hpp"

namespace lotwear {

namespace fs = std::filesystem;

namespace {

using nlohmann::ordered_json;

constexpr std::array<std::string_view, 3> kEntryWords = {"edit", "undo", "redo"};
constexpr std::size_t kLargestJournal = std::size_t{1} << 30;
constexpr std::size_t kMostChanges = 100000;

ordered_json json_of(const MarkingChange& change) {
  ordered_json out = {
      {"id", change.id}, {"before", ordered_json::parse(change.before)}, {"after", ordered_json::parse(change.after)}};
  if (change.adds) out["adds"] = ordered_json::parse(*change.adds);
  if (change.removes) out["removes"] = ordered_json::parse(*change.removes);
  return out;
}

std::string line_of(const JournalEntry& entry) {
  ordered_json out = {{"revision", entry.revision},
                      {"is", kEntryWords[static_cast<std::size_t>(entry.is)]},
                      {"what", entry.what},
                      {"changes", ordered_json::array()}};
  for (const MarkingChange& change : entry.changes)
    out["changes"].push_back(json_of(change));
  return out.dump(-1, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

JournalEntry entry_from(const Fields& from) {
  JournalEntry entry;
  entry.revision = from.whole("revision", 1, std::numeric_limits<int>::max());
  const auto is = from_word<JournalEntry::Is>(kEntryWords, from.text("is"));
  if (!is) from.refuse("is", "must be edit, undo or redo");
  entry.is = *is;
  entry.what = from.text("what");
  for (const Fields& change : from.objects("changes", kMostChanges)) {
    MarkingChange& read = entry.changes.emplace_back();
    read.id = change.text("id");
    read.before = change.verbatim("before");
    read.after = change.verbatim("after");
    if (change.has("adds")) read.adds = change.verbatim("adds");
    if (change.has("removes")) read.removes = change.verbatim("removes");
  }
  return entry;
}

auto find(Survey& survey, const std::string& id) {
  return std::find_if(survey.markings.begin(), survey.markings.end(),
                      [&](const SurveyMarking& marking) { return marking.id == id; });
}

bool same_value(const std::string& one, const std::string& other) {
  return one == other || ordered_json::parse(one) == ordered_json::parse(other);
}

}  // namespace

std::vector<JournalEntry> read_journal(const fs::path& folder) {
  const fs::path file = folder / kJournalName;
  std::error_code error;
  if (!fs::exists(file, error)) return {};
  const std::string text = read_file(file, kLargestJournal);
  std::vector<JournalEntry> entries;
  std::size_t line = 0;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = text.find('\n', at);
    if (end == std::string::npos) break;  // torn: never answered
    ++line;
    try {
      entries.push_back(entry_from(Fields::of_text(text.substr(at, end - at), file.string())));
    } catch (const Failure& failure) {
      throw Failure(fmt::format("{}: entry {} is damaged ({}); move the file away to go on with survey.json as it is",
                                file.string(), line, failure.what()));
    }
    at = end + 1;
  }
  return entries;
}

std::vector<MarkingChange> turned_back(const std::vector<MarkingChange>& changes) {
  std::vector<MarkingChange> back(changes.rbegin(), changes.rend());
  for (MarkingChange& change : back) {
    std::swap(change.before, change.after);
    std::swap(change.adds, change.removes);
  }
  return back;
}

std::optional<std::string> obstacle(const Survey& survey, const std::vector<MarkingChange>& changes) {
  for (const MarkingChange& change : changes) {
    const auto at = std::find_if(survey.markings.begin(), survey.markings.end(),
                                 [&](const SurveyMarking& marking) { return marking.id == change.id; });
    const bool there = at != survey.markings.end();
    if (change.adds && there) return fmt::format("{} is in the survey already", change.id);
    if (!change.adds && !there) return fmt::format("{} is no longer in the survey", change.id);
    if (there && !same_value(at->person_json.empty() ? "null" : at->person_json, change.before))
      return fmt::format("{} was changed by something else since", change.id);
  }
  return std::nullopt;
}

void make_changes(Survey& survey, const std::vector<MarkingChange>& changes) {
  const Policy policy = policy_of(survey);
  for (const MarkingChange& change : changes) {
    if (change.removes) {
      survey.markings.erase(find(survey, change.id));
      continue;
    }
    if (change.adds) survey.markings.push_back(marking_from(*change.adds, change.id));
    SurveyMarking& marking = *find(survey, change.id);
    marking.person_json = change.after;
    marking.decision = decide(condition_of(marking), marking.kind, policy, marking.person());
  }
}

void catch_up(Survey& survey, const fs::path& folder) {
  for (const JournalEntry& entry : read_journal(folder)) {
    if (entry.revision <= survey.revision) continue;
    if (const auto why = obstacle(survey, entry.changes)) {
      survey.problems.push_back({kJournalName, fmt::format("{}: {}; look at it in review", entry.what, *why)});
    } else {
      make_changes(survey, entry.changes);
    }
    survey.revision = entry.revision;
  }
}

bool is_behind_journal(const fs::path& folder) {
  const std::vector<JournalEntry> entries = read_journal(folder);
  if (entries.empty()) return false;
  const Fields root = Fields::of_text(read_file(folder / "survey.json"), (folder / "survey.json").string());
  return root.whole_if("revision", 0, std::numeric_limits<int>::max()).value_or(0) < entries.back().revision;
}

Journal::Journal(fs::path folder) : file_(std::move(folder) / kJournalName) {
  std::error_code error;
  if (!fs::exists(file_, error)) return;
  const std::string text = read_file(file_, kLargestJournal);
  const std::size_t whole = text.rfind('\n') == std::string::npos ? 0 : text.rfind('\n') + 1;
  if (whole < text.size()) fs::resize_file(file_, whole, error);
  if (error)
    throw Failure(fmt::format("{}: cannot be put right ({}); check its permissions", file_.string(), error.message()));
}

void Journal::append(const JournalEntry& entry) { append_to_file(file_, line_of(entry)); }

void set_journal_aside(const fs::path& folder) {
  std::error_code error;
  if (!fs::exists(folder / kJournalName, error)) return;
  for (int i = 1;; ++i) {
    const fs::path free = folder / fmt::format("review-journal-{}.jsonl", i);
    if (fs::exists(free, error)) continue;
    fs::rename(folder / kJournalName, free, error);
    if (error)
      throw Failure(
          fmt::format("{}: cannot be renamed ({}); move it away", (folder / kJournalName).string(), error.message()));
    return;
  }
}

}  // namespace lotwear
