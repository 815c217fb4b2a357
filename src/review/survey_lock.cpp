#include "review/survey_lock.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include "base/trouble.hpp"

namespace lotwear {

SurveyLock::SurveyLock(const std::filesystem::path& folder) {
  const std::filesystem::path name = folder / ".review-lock";
  file_ = ::open(name.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
  if (file_ < 0)
    throw Failure(
        fmt::format("{}: cannot be written; check that the survey folder is there and writable", name.string()));
  if (::flock(file_, LOCK_EX | LOCK_NB) == 0) return;
  ::close(file_);
  throw Failure(fmt::format("{}: another review of this survey is open; end it first", folder.string()));
}

SurveyLock::~SurveyLock() { ::close(file_); }

}  // namespace lotwear
