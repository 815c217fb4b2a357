#pragma once
// review-journal.jsonl beside survey.json: one line for every change that a person made, flushed to the disk before the
// survey is written again. A change is on the disk once its line is whole; a line without its end was never answered.
// So a kill, a crash or a closed lid loses nothing, and the same lines are the undo list.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "survey/survey.hpp"

namespace lotwear {

/// One marking before and after. `person` objects as text; whole markings where the change adds or removes one.
struct MarkingChange {
  std::string id;
  std::string before = "null", after = "null";
  std::optional<std::string> adds, removes;
};

struct JournalEntry {
  enum class Is { edit, undo, redo } is = Is::edit;
  long revision = 0;  ///< of the survey after it; one more than before
  std::string what;   ///< for people: "M003: kind is stop-line"
  std::vector<MarkingChange> changes;
};

inline constexpr const char* kJournalName = "review-journal.jsonl";

/// Entries in order; the torn end of a last line is left out. Throws Failure naming the line where the file is damaged.
std::vector<JournalEntry> read_journal(const std::filesystem::path& folder);

/// The same changes the other way round.
std::vector<MarkingChange> turned_back(const std::vector<MarkingChange>& changes);

/// What keeps the changes from being made; nothing when all of them can be.
std::optional<std::string> obstacle(const Survey& survey, const std::vector<MarkingChange>& changes);

/// Makes the changes; decisions follow the survey's policy. Call it where there is no obstacle.
void make_changes(Survey& survey, const std::vector<MarkingChange>& changes);

/// Brings the survey up to the journal's last line. What cannot be done (the marking is gone) is a line in `problems`.
void catch_up(Survey& survey, const std::filesystem::path& folder);

/// survey.json on the disk lacks lines of the journal.
bool is_behind_journal(const std::filesystem::path& folder);

/// Writes lines at the journal's end. Cuts off a torn one first.
class Journal {
 public:
  explicit Journal(std::filesystem::path folder);
  /// On the disk when it returns. Throws Failure when it cannot be; nothing of the line is left then.
  void append(const JournalEntry& entry);

 private:
  std::filesystem::path file_;
};

/// Moves the journal of a survey that is no longer there out of the way, under a free name.
void set_journal_aside(const std::filesystem::path& folder);

}  // namespace lotwear
