#include "review/session.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <chrono>
#include <regex>
#include <set>

#include "base/files.hpp"
#include "review/outline_check.hpp"
#include "review/person_edit.hpp"
#include "review/template.hpp"
#include "survey/photo_folders.hpp"
#include "views/evidence.hpp"

namespace lotwear {

namespace fs = std::filesystem;

namespace {

const SurveyMarking* find(const Survey& survey, const std::string& id) {
  const auto at = std::find_if(survey.markings.begin(), survey.markings.end(),
                               [&](const SurveyMarking& marking) { return marking.id == id; });
  return at == survey.markings.end() ? nullptr : &*at;
}

const SurveyPhoto* photo_of(const Survey& survey, const std::string& file) {
  const auto at = std::find_if(survey.photos.begin(), survey.photos.end(),
                               [&](const SurveyPhoto& photo) { return photo.file == file; });
  return at == survey.photos.end() ? nullptr : &*at;
}

std::string free_id(const Survey& survey, const std::vector<JournalEntry>& gone) {
  std::set<std::string> taken;
  for (const SurveyMarking& marking : survey.markings)
    taken.insert(marking.id);
  // the id of one that was taken back may come again by redo
  for (const JournalEntry& entry : gone) {
    for (const MarkingChange& change : entry.changes)
      taken.insert(change.id);
  }
  for (std::size_t next = survey.markings.size() + 1;; ++next) {
    std::string id = fmt::format("M{:03}", next);
    if (!taken.contains(id)) return id;
  }
}

/// Following "the same as" from `from` ends at `to`.
bool leads_to(const Survey& survey, std::string from, const std::string& to) {
  for (std::size_t steps = 0; steps <= survey.markings.size(); ++steps) {
    if (from == to) return true;
    const SurveyMarking* marking = find(survey, from);
    const std::optional<std::string> next = marking != nullptr ? repeats(*marking) : std::nullopt;
    if (!next) return false;
    from = *next;
  }
  return false;
}

void remove_pictures(const fs::path& folder, const EvidenceNames& names) {
  std::error_code ignored;
  for (const std::string& name : {names.photo, names.plan, names.loss}) {
    if (!name.empty()) fs::remove(folder / name, ignored);
  }
}

}  // namespace

struct Session::Drawn {
  Condition condition;
  EvidenceNames pictures;
};

Session::Session(SessionPlaces places)
    : places_(std::move(places)),
      lock_(places_.survey),
      shapes_(load_shapes(places_.models)),
      shelf_(places_.models),
      journal_(places_.survey) {
  load();
  sweep_pictures();
}

Session::~Session() = default;

void Session::load() {
  survey_ = load_survey(places_.survey);
  undo_.clear();
  redo_.clear();
  std::vector<JournalEntry> entries = read_journal(places_.survey);
  // lines of an older survey, before a gap, cannot be taken back
  std::size_t first = entries.size();
  for (long wanted = survey_.revision; first > 0 && entries[first - 1].revision == wanted; --wanted)
    --first;
  for (std::size_t i = first; i < entries.size(); ++i) {
    JournalEntry& entry = entries[i];
    std::vector<JournalEntry>& from = entry.is == JournalEntry::Is::undo ? undo_ : redo_;
    std::vector<JournalEntry>& to = entry.is == JournalEntry::Is::undo ? redo_ : undo_;
    if (entry.is == JournalEntry::Is::edit) {
      redo_.clear();
      undo_.push_back(std::move(entry));
    } else if (!from.empty()) {
      to.push_back(std::move(from.back()));
      from.pop_back();
    }
  }
  if (is_behind_journal(places_.survey)) save_survey(survey_, places_.survey);
  seen_ = now_on_disk();
}

Session::Seen Session::now_on_disk() const {
  struct stat at {};
  if (::stat((places_.survey / "survey.json").c_str(), &at) != 0) return {};
  constexpr std::int64_t kNanoseconds = 1'000'000'000;
  return {at.st_mtim.tv_sec * kNanoseconds + at.st_mtim.tv_nsec, at.st_size, static_cast<std::int64_t>(at.st_ino)};
}

bool Session::changed_outside() const { return now_on_disk() != seen_; }

/// Call it with the guard held.
std::optional<Outcome> Session::objection(long revision, const std::string& id) {
  if (changed_outside()) {
    load();
    return Outcome{Outcome::Is::stale, "another command wrote this survey meanwhile; it was read again", {}};
  }
  if (revision != survey_.revision)
    return Outcome{Outcome::Is::stale, "this survey was changed in another tab or window; look at it again first", {}};
  if (!id.empty() && find(survey_, id) == nullptr)
    return Outcome{Outcome::Is::refused, id + " is not in this survey", {}};
  return std::nullopt;
}

/// Call it with the guard held.
Outcome Session::commit(JournalEntry entry) {
  entry.revision = survey_.revision + 1;
  if (const auto why = obstacle(survey_, entry.changes)) return {Outcome::Is::refused, *why, {}};
  Survey next = survey_;
  make_changes(next, entry.changes);
  next.revision = entry.revision;
  journal_.append(entry);
  survey_ = std::move(next);
  Outcome outcome{Outcome::Is::done, entry.what, {}};
  for (const MarkingChange& change : entry.changes)
    outcome.ids.push_back(change.id);
  if (entry.is == JournalEntry::Is::edit) {
    redo_.clear();
    undo_.push_back(std::move(entry));
  }
  try {
    save_survey(survey_, places_.survey);
  } catch (const Failure& failure) {  // the journal has it; the next change, or the next start, writes the survey
    outcome.what += fmt::format(" (kept in the journal only: {})", failure.what());
  }
  seen_ = now_on_disk();
  return outcome;
}

Outcome Session::say(long revision, const std::string& id, const std::string& fields) {
  const std::lock_guard lock(guard_);
  if (const auto no = objection(revision, id)) return *no;
  const SurveyMarking& marking = *find(survey_, id);
  SurveyMarking after = marking;
  after.person_json = with_fields(marking.person_json, fields);
  const PersonSays said = after.person();
  if (said.same_as && *said.same_as != id) {
    if (find(survey_, *said.same_as) == nullptr)
      return {Outcome::Is::refused, *said.same_as + " is not in this survey", {}};
    if (leads_to(survey_, *said.same_as, id))
      return {Outcome::Is::refused,
              fmt::format("{} repeats {} already; one of them has to be counted", *said.same_as, id),
              {}};
  }
  return commit({JournalEntry::Is::edit,
                 0,
                 fmt::format("{}: {}", id, said_words(fields)),
                 {{id, marking.person_json.empty() ? "null" : marking.person_json, after.person_json, {}, {}}}});
}

StudyShelf::Wanted Session::wanted(const Survey& survey, const SurveyPhoto& photo) const {
  StudyShelf::Wanted wanted{{}, photo, {}};
  if (const auto file = photo_file(photo)) wanted.file = *file;
  for (const SurveyMarking& marking : survey.markings) {
    if (marking.photo == photo.file) wanted.markings.push_back(marking);
  }
  return wanted;
}

/// Costs its time without the guard: other tabs go on.
Session::Drawn Session::measured(const Survey& survey, const std::string& id, const std::string& picture_id,
                                 const std::string& photo, Kind kind, const std::vector<ImageRing>& outline) {
  const SurveyPhoto* entry = photo_of(survey, photo);
  const SurveyMarking* before = find(survey, id);
  const Colour colour = before != nullptr ? before->condition.colour : Colour::other;
  if (entry == nullptr) return {unmeasured(colour, "its photo is not in the survey"), {}};
  if (const auto file = photo_file(*entry); !file) return {unmeasured(colour, "the photo " + file.problem().what), {}};
  const StudyShelf::Held study = shelf_.study(wanted(survey, *entry));
  if (!study) return {unmeasured(colour, "the photo " + study.problem().what), {}};
  std::vector<std::vector<ImageRing>> others;
  for (const SurveyMarking& other : survey.markings) {
    if (other.photo == photo && other.id != id && !is_false_alarm(other)) others.push_back(outline_of(other));
  }
  const auto start = std::chrono::steady_clock::now();
  MeasuredAgain seen = measure_again(**study, id, kind, outline, others);
  if (!seen.map) {
    if (seen.condition.colour == Colour::other) seen.condition.colour = colour;
    return {std::move(seen.condition), {}};
  }
  const EvidenceFiles files =
      write_evidence((*study)->photo, outline, *seen.map, picture_id, places_.survey, plan_scale((*study)->ground));
  last_measured_ms_ = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
  return {std::move(seen.condition), {files.photo, files.plan, files.loss}};
}

Outcome Session::draw(long revision, const std::string& id, const std::optional<std::vector<ImageRing>>& wished) {
  std::optional<std::vector<ImageRing>> outline;
  if (wished) outline = as_stored(*wished);
  Survey now;
  {
    const std::lock_guard lock(guard_);
    if (const auto no = objection(revision, id)) return *no;
    now = survey_;
  }
  const SurveyMarking& marking = *find(now, id);
  const std::string before = marking.person_json.empty() ? "null" : marking.person_json;
  JournalEntry entry{JournalEntry::Is::edit, 0, id + ": outline", {{id, before, "", {}, {}}}};
  EvidenceNames pictures;
  if (outline) {
    const SurveyPhoto* photo = photo_of(now, marking.photo);
    if (photo == nullptr) return {Outcome::Is::refused, "its photo is not in the survey", {}};
    if (const auto fault = fault_of(*outline, *photo)) return {Outcome::Is::refused, *fault, {}};
    const Drawn drawn =
        measured(now, id, fmt::format("{}-r{}", id, revision + 1), marking.photo, kind_of(marking), *outline);
    pictures = drawn.pictures;
    entry.changes[0].after = with_outline(before, *outline, drawn.condition, drawn.pictures);
  } else {
    if (marking.person().added.value_or(false))
      return {Outcome::Is::refused,
              id + " was drawn by hand: there is no outline that was found; call it a false alarm instead",
              {}};
    entry.what = id + ": outline as it was found";
    entry.changes[0].after = without_outline(before);
  }
  const std::lock_guard lock(guard_);
  if (const auto no = objection(revision, id)) {
    remove_pictures(places_.survey, pictures);
    return *no;
  }
  return commit(std::move(entry));
}

Outcome Session::add(long revision, std::size_t photo, Kind kind, Colour colour, const std::vector<ImageRing>& wished) {
  const std::vector<ImageRing> outline = as_stored(wished);
  Survey now;
  SurveyMarking fresh;
  {
    const std::lock_guard lock(guard_);
    if (const auto no = objection(revision, "")) return *no;
    if (photo >= survey_.photos.size()) return {Outcome::Is::refused, "there is no such photo in this survey", {}};
    if (const auto fault = fault_of(outline, survey_.photos[photo])) return {Outcome::Is::refused, *fault, {}};
    now = survey_;
    fresh.id = free_id(survey_, redo_);
  }
  fresh.photo = now.photos[photo].file;
  fresh.kind = kind;
  fresh.kind_confidence = 1;
  fresh.outline = outline;
  const Drawn drawn =
      measured(now, fresh.id, fmt::format("{}-r{}", fresh.id, revision + 1), fresh.photo, kind, outline);
  fresh.condition = drawn.condition;
  if (colour != Colour::other) fresh.condition.colour = colour;
  fresh.person_json = with_fields(R"({"added": true})", fmt::format(R"({{"kind": "{}"}})", word(kind)));
  if (colour != Colour::other)
    fresh.person_json = with_fields(fresh.person_json, fmt::format(R"({{"colour": "{}"}})", word(colour)));
  fresh.person_json = with_outline(fresh.person_json, outline, drawn.condition, drawn.pictures);
  fresh.decision = decide(fresh.condition, kind, policy_of(now), fresh.person());
  const std::lock_guard lock(guard_);
  if (const auto no = objection(revision, "")) {
    remove_pictures(places_.survey, drawn.pictures);
    return *no;
  }
  return commit({JournalEntry::Is::edit,
                 0,
                 fmt::format("{}: {} added", fresh.id, word(kind)),
                 {{fresh.id, "null", fresh.person_json, marking_text(fresh), {}}}});
}

Outcome Session::add(long revision, std::size_t photo, const std::string& shape, Colour colour, ImagePoint from,
                     ImagePoint to) {
  const auto named = std::find_if(shapes_.begin(), shapes_.end(), [&](const Shape& one) { return one.name == shape; });
  if (named == shapes_.end()) return {Outcome::Is::refused, "there is no such template", {}};
  std::optional<SurveyPhoto> entry;
  {
    const std::lock_guard lock(guard_);
    if (const auto no = objection(revision, "")) return *no;
    if (photo < survey_.photos.size()) entry = survey_.photos[photo];
  }
  if (!entry) return {Outcome::Is::refused, "there is no such photo in this survey", {}};
  if (!entry->plane)
    return {Outcome::Is::refused, "this photo shows no pavement to lay a template on; draw the outline by hand", {}};
  Ground ground;
  ground.ground_from_image = GroundFromImage(entry->plane->image_to_ground);
  ground.image_from_ground = ground.ground_from_image.inverse();
  const Result<std::vector<ImageRing>> laid = lay_template(*named, ground, from, to);
  if (!laid) return {Outcome::Is::refused, laid.problem().what, {}};
  return add(revision, photo, named->kind, colour, *laid);
}

Outcome Session::step(long revision, JournalEntry::Is is) {
  const std::lock_guard lock(guard_);
  if (const auto no = objection(revision, "")) return *no;
  const bool back = is == JournalEntry::Is::undo;
  std::vector<JournalEntry>& from = back ? undo_ : redo_;
  if (from.empty()) return {Outcome::Is::refused, back ? "there is nothing to undo" : "there is nothing to redo", {}};
  JournalEntry entry = from.back();
  Outcome outcome = commit({is, 0, entry.what, back ? turned_back(entry.changes) : entry.changes});
  if (outcome.is != Outcome::Is::done) return outcome;
  from.pop_back();
  (back ? redo_ : undo_).push_back(std::move(entry));
  return outcome;
}

Outcome Session::undo(long revision) { return step(revision, JournalEntry::Is::undo); }
Outcome Session::redo(long revision) { return step(revision, JournalEntry::Is::redo); }

Session::View Session::view() {
  const std::lock_guard lock(guard_);
  if (changed_outside()) load();
  View view{survey_, {}, {}};
  if (!undo_.empty()) view.undo = undo_.back().what;
  if (!redo_.empty()) view.redo = redo_.back().what;
  return view;
}

long Session::revision() {
  const std::lock_guard lock(guard_);
  return survey_.revision;
}

Result<fs::path> Session::photo_file(const SurveyPhoto& photo) const {
  return find_photo(photo, photo_folders(places_.survey, places_.photos));
}

void Session::foresee(std::size_t photo) {
  std::optional<StudyShelf::Wanted> wish;
  {
    const std::lock_guard lock(guard_);
    if (photo < survey_.photos.size()) wish = wanted(survey_, survey_.photos[photo]);
  }
  if (wish && !wish->file.empty()) shelf_.foresee(*std::move(wish));
}

/// Pictures of outlines that neither the survey nor any line of the journal names: their change never came to be.
void Session::sweep_pictures() const {
  static const std::regex ours(R"(M\d{3,}-r\d+-(photo\.jpg|plan\.jpg|loss\.png))");
  std::string named = survey_text(survey_);
  std::error_code ignored;
  if (fs::exists(places_.survey / kJournalName, ignored)) named += read_file(places_.survey / kJournalName);
  for (fs::directory_iterator at(places_.survey / "evidence", ignored), end; !ignored && at != end;
       at.increment(ignored)) {
    const std::string name = at->path().filename().string();
    if (std::regex_match(name, ours) && named.find("evidence/" + name) == std::string::npos)
      fs::remove(at->path(), ignored);
  }
}

}  // namespace lotwear
