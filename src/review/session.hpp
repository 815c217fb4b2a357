#pragma once
// The survey while a person works on it. Every change: looked at, measured again where an outline is new, written to
// the journal and flushed, then made and saved by renaming. Undo and redo are changes too, so they survive a crash as
// well. Thread-safe; one session a survey folder (a lock file), and what other commands write into it meanwhile is
// seen.

#include <atomic>
#include <cstdint>
#include <memory>
#include <mutex>

#include "marking/shapes.hpp"
#include "review/measure_again.hpp"
#include "review/survey_lock.hpp"
#include "survey/journal.hpp"
#include "survey/survey.hpp"

namespace lotwear {

/// What became of a wish.
struct Outcome {
  enum class Is {
    done,
    stale,    ///< made on another state than the present one: look again, nothing was changed
    refused,  ///< cannot be; `what` says why
  } is = Is::done;
  std::string what;
  std::vector<std::string> ids;  ///< markings that are not as they were
};

struct SessionPlaces {
  std::filesystem::path survey;  ///< the folder
  std::filesystem::path models;
  std::vector<std::filesystem::path> photos;  ///< folders given by hand
};

class Session {
 public:
  /// Throws Failure when the survey cannot be read or another review holds it.
  explicit Session(SessionPlaces places);
  ~Session();
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  /// Fields of `person` as JSON text, null to take one back: kind, colour, action, coats, adhesion, incompatible_below,
  /// build_up_mm, build_up_sound, note, same_as, confirmed, false_alarm.
  Outcome say(long revision, const std::string& id, const std::string& fields);
  /// Another outline; nothing: the one that was found.
  Outcome draw(long revision, const std::string& id, const std::optional<std::vector<ImageRing>>& outline);
  /// A marking that was missed.
  Outcome add(long revision, std::size_t photo, Kind kind, Colour colour, const std::vector<ImageRing>& outline);
  /// The same from a template.
  Outcome add(long revision, std::size_t photo, const std::string& shape, Colour colour, ImagePoint from,
              ImagePoint to);
  Outcome undo(long revision);
  Outcome redo(long revision);

  /// The survey as it is now, and what undo and redo would take back or make again.
  struct View {
    Survey survey;
    std::optional<std::string> undo, redo;
  };
  View view();
  long revision();
  const std::vector<Shape>& shapes() const { return shapes_; }
  const std::filesystem::path& folder() const { return places_.survey; }

  Result<std::filesystem::path> photo_file(const SurveyPhoto& photo) const;
  /// Gets a photo ready in the background.
  void foresee(std::size_t photo);
  /// Milliseconds that the last measuring again took, without the photo's study.
  double last_measured_ms() const { return last_measured_ms_; }

 private:
  struct Seen {  ///< of survey.json on the disk
    std::int64_t time = 0, size = 0, node = 0;
    bool operator==(const Seen&) const = default;
  };

  void load();
  Seen now_on_disk() const;
  bool changed_outside() const;
  std::optional<Outcome> objection(long revision, const std::string& id);
  Outcome commit(JournalEntry entry);
  Outcome step(long revision, JournalEntry::Is is);
  struct Drawn;
  Drawn measured(const Survey& survey, const std::string& id, const std::string& picture_id, const std::string& photo,
                 Kind kind, const std::vector<ImageRing>& outline);
  StudyShelf::Wanted wanted(const Survey& survey, const SurveyPhoto& photo) const;
  void sweep_pictures() const;

  SessionPlaces places_;
  SurveyLock lock_;
  std::vector<Shape> shapes_;
  StudyShelf shelf_;
  mutable std::mutex guard_;
  Survey survey_;
  Journal journal_;
  Seen seen_;
  std::vector<JournalEntry> undo_, redo_;
  std::atomic<double> last_measured_ms_ = 0;
};

}  // namespace lotwear
