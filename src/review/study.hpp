#pragma once
// A photo made ready to be measured in again and again: decoded, looked at by the finder, its ground as the survey has
// it, and what its markings say together of the pavement. Costs as much as half an assess, once.

#include <atomic>
#include <condition_variable>
#include <filesystem>
#include <future>
#include <list>
#include <memory>
#include <mutex>
#include <thread>

#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"
#include "measure/coat_reader.hpp"
#include "measure/fading.hpp"
#include "survey/survey.hpp"

namespace lotwear {

struct Study {
  Photo photo;
  PaintMap paint;
  Ground ground;
  std::shared_ptr<const CoatReader> coats;
  /// Paint over pavement of every marking as `assess` found it, by id: what a person drew since does not change what
  /// the others say, so the order of edits cannot show in a number.
  std::vector<std::pair<std::string, PaintOverPavement>> paints;
};

/// The outline as a footprint on the ground. Problem: a corner lies above the horizon.
Result<Footprint> footprint_by_hand(const Ground& ground, Kind kind, const std::vector<ImageRing>& outline,
                                    const std::string& photo);

/// Keeps the studies of the photos used last; makes each once, however many ask for it. Thread-safe.
class StudyShelf {
 public:
  explicit StudyShelf(std::filesystem::path models);
  ~StudyShelf();
  StudyShelf(const StudyShelf&) = delete;
  StudyShelf& operator=(const StudyShelf&) = delete;

  struct Wanted {
    std::filesystem::path file;
    SurveyPhoto photo;
    std::vector<SurveyMarking> markings;  ///< of this photo
  };
  using Held = Result<std::shared_ptr<const Study>>;

  /// Waits for it. Problem: another content than the survey's, no plane, cannot be decoded.
  Held study(const Wanted& wanted);
  /// Begins it in the background; a later wish replaces one that has not begun.
  void foresee(Wanted wanted);

 private:
  Held make(const Wanted& wanted);
  void work(const std::stop_token& stop);

  std::filesystem::path models_;
  std::mutex guard_;
  std::condition_variable_any wished_;
  std::optional<Wanted> next_;
  std::list<std::pair<std::string, std::shared_future<Held>>> held_;  ///< by SHA-256, last used first
  std::mutex finding_;
  std::optional<Finder> finder_;
  std::shared_ptr<const CoatReader> coats_;
  std::atomic<bool> ending_ = false;  ///< nobody waits for a study that was only foreseen
  std::jthread worker_;
};

}  // namespace lotwear
