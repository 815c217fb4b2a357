#include "review/presence.hpp"

namespace lotwear {

void Presence::seen(const std::string& tab, Time now) {
  const std::lock_guard lock(guard_);
  constexpr std::size_t kMostTabs = 1000;
  if (tabs_.size() < kMostTabs) tabs_[tab.substr(0, 64)] = now;
  empty_since_.reset();
}

void Presence::left(const std::string& tab, Time now) {
  const std::lock_guard lock(guard_);
  tabs_.erase(tab.substr(0, 64));
  if (tabs_.empty()) empty_since_ = now;
}

bool Presence::over(Time now) {
  const std::lock_guard lock(guard_);
  const bool some = !tabs_.empty();
  std::erase_if(tabs_, [&](const auto& tab) { return now - tab.second > kSilence; });
  if (some && tabs_.empty()) empty_since_ = now;
  return empty_since_ && now - *empty_since_ > kGrace;
}

}  // namespace lotwear
