#include "ground/walk.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <tuple>

#include "ground/likely_view.hpp"

namespace lotwear {

namespace {

constexpr double kLongestPause = 2 * 3600;  // seconds; after a longer one somebody else may hold the phone

// How one person's photos differ in height: arms up, a crouch, a step on a kerb (common practice, no source). Which of
// these holds for a walk is left to the walk.
struct Steadiness {
  double spread = 0, share = 0;
};
constexpr std::array<Steadiness, 3> kSteadiness = {{{0.04, 0.3}, {0.08, 0.5}, {0.16, 0.2}}};
constexpr double kUsualSpread = 0.08;

/// Indices of photos that one person took in one go.
std::vector<std::vector<std::size_t>> walks(const std::vector<WalkPhoto>& photos) {
  std::vector<std::pair<double, std::size_t>> timed;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    const auto at = photos[i].taken ? seconds_of(*photos[i].taken) : std::nullopt;
    if (at && !photos[i].camera.empty()) timed.emplace_back(*at, i);
  }
  std::stable_sort(timed.begin(), timed.end(), [&](const auto& a, const auto& b) {
    return std::tie(photos[a.second].camera, a.first) < std::tie(photos[b.second].camera, b.first);
  });
  std::vector<std::vector<std::size_t>> found;
  for (std::size_t k = 0; k < timed.size(); ++k) {
    const bool goes_on = k > 0 && photos[timed[k].second].camera == photos[timed[k - 1].second].camera &&
                         timed[k].first - timed[k - 1].first <= kLongestPause;
    if (!goes_on) found.emplace_back();
    found.back().push_back(timed[k].second);
  }
  return found;
}

/// Height of another photo of a person whose photos were seen at these heights.
CameraHeight another(const std::vector<CameraHeight>& seen) {
  const ViewBelief hand = hand_held({1, true}).belief;
  const double usual = hand.view.log_height;
  // people at large: the hand's spread less what one person adds to it
  const double people = hand.covariance(3, 3) - kUsualSpread * kUsualSpread;
  double total = 0, mean = 0, square = 0;
  for (const Steadiness& steady : kSteadiness) {
    const double own = steady.spread * steady.spread;
    double precision = 1 / people, middle = usual / people;
    for (const CameraHeight& h : seen) {
      const double variance = h.error * h.error + own;
      precision += 1 / variance;
      middle += h.log_mm / variance;
    }
    middle /= precision;
    // the evidence for this steadiness: seen heights about their common middle, which the prior binds
    double log_evidence = -0.5 * std::log(precision * people) - 0.5 * (middle - usual) * (middle - usual) / people;
    for (const CameraHeight& h : seen) {
      const double variance = h.error * h.error + own;
      log_evidence -= 0.5 * (std::log(variance) + (h.log_mm - middle) * (h.log_mm - middle) / variance);
    }
    const double weight = steady.share * std::exp(log_evidence);
    total += weight;
    mean += weight * middle;
    square += weight * (1 / precision + own + middle * middle);
  }
  mean /= total;
  return {mean, std::sqrt(std::max(0.0, square / total - mean * mean))};
}

}  // namespace

std::optional<double> seconds_of(const std::string& taken) {
  int year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0;
  if (std::sscanf(taken.c_str(), "%d-%d-%dT%d:%d:%d", &year, &month, &day, &hour, &minute, &second) != 6)
    return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(static_cast<unsigned>(month)),
                                         std::chrono::day(static_cast<unsigned>(day))};
  if (!date.ok()) return std::nullopt;
  const auto days = static_cast<double>(std::chrono::sys_days(date).time_since_epoch().count());
  return days * 86400.0 + hour * 3600.0 + minute * 60.0 + second;
}

CameraHeight together(const CameraHeight& a, const CameraHeight& b) {
  const double wa = 1 / (a.error * a.error), wb = 1 / (b.error * b.error);
  return {(wa * a.log_mm + wb * b.log_mm) / (wa + wb), std::sqrt(1 / (wa + wb))};
}

std::vector<std::optional<CameraHeight>> heights_by_walk(const std::vector<WalkPhoto>& photos) {
  std::vector<std::optional<CameraHeight>> heights(photos.size());
  for (const std::vector<std::size_t>& walk : walks(photos)) {
    for (const std::size_t i : walk) {
      std::vector<CameraHeight> seen;
      for (const std::size_t j : walk) {
        if (j != i && photos[j].seen) seen.push_back(*photos[j].seen);
      }
      if (!seen.empty()) heights[i] = another(seen);
    }
  }
  return heights;
}

}  // namespace lotwear
