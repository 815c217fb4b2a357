#pragma once
// Who looks at the page: the review ends with its last tab.

#include <chrono>
#include <map>
#include <mutex>
#include <optional>
#include <string>

namespace lotwear {

/// Thread-safe. Times are given, so that tests need not wait.
class Presence {
 public:
  using Time = std::chrono::steady_clock::time_point;
  void seen(const std::string& tab, Time now);
  void left(const std::string& tab, Time now);
  /// A page was open once and none is now.
  bool over(Time now);

 private:
  // a page that is loaded again leaves first; a tab in the background is let speak once a minute by the browser
  static constexpr std::chrono::seconds kGrace{6}, kSilence{200};
  std::mutex guard_;
  std::map<std::string, Time> tabs_;
  std::optional<Time> empty_since_;
};

}  // namespace lotwear
