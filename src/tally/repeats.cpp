#include "tally/repeats.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>

namespace lotwear {

Counted count_once(const Survey& survey) {
  const std::size_t count = survey.markings.size();
  std::map<std::string, std::size_t> position;
  std::vector<bool> real(count);
  for (std::size_t i = 0; i < count; ++i) {
    real[i] = !is_false_alarm(survey.markings[i]);
    position.emplace(survey.markings[i].id, i);
  }

  Counted counted;
  std::vector<std::optional<std::size_t>> next(count);
  for (std::size_t i = 0; i < count; ++i) {
    const std::optional<std::string> other = repeats(survey.markings[i]);
    if (!other || !real[i]) continue;
    const auto at = position.find(*other);
    if (at != position.end() && real[at->second]) {
      if (at->second != i) next[i] = at->second;
      continue;
    }
    counted.notes.push_back(fmt::format("{} is said to repeat {}, which {}; it is counted", survey.markings[i].id,
                                        *other, at == position.end() ? "is not in the survey" : "a person struck out"));
  }

  enum class State { unseen, on_this_walk, done };
  std::vector<State> state(count, State::unseen);
  for (std::size_t i = 0; i < count; ++i) {
    std::vector<std::size_t> walk;
    std::optional<std::size_t> at = i;
    while (at && state[*at] == State::unseen) {
      state[*at] = State::on_this_walk;
      walk.push_back(*at);
      at = next[*at];
    }
    if (at && state[*at] == State::on_this_walk) {
      const auto circle = std::find(walk.begin(), walk.end(), *at);
      const std::size_t first = *std::min_element(circle, walk.end());
      next[first] = std::nullopt;
      counted.notes.push_back(fmt::format("{} and others are said to repeat each other in a circle; {} is counted",
                                          survey.markings[first].id, survey.markings[first].id));
    }
    for (const std::size_t one : walk)
      state[one] = State::done;
  }
  for (std::size_t i = 0; i < count; ++i) {
    if (real[i] && !next[i]) counted.markings.push_back(i);
  }
  return counted;
}

}  // namespace lotwear
