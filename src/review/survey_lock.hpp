#pragma once

#include <filesystem>

namespace lotwear {

/// One review a survey folder, across programs; the system lets go of it however the program ends.
class SurveyLock {
 public:
  /// Throws Failure when another review holds it, or the folder cannot be written.
  explicit SurveyLock(const std::filesystem::path& folder);
  ~SurveyLock();
  SurveyLock(const SurveyLock&) = delete;
  SurveyLock& operator=(const SurveyLock&) = delete;

 private:
  int file_ = -1;
};

}  // namespace lotwear
