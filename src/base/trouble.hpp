#pragma once
// Three kinds of trouble. The world (a torn file, no plane): Result<T> holding a Problem; it ends as a line in `problems`
// and the run goes on. The job (the output folder cannot be written): throw Failure; caught once, in main, exit 1.
// Us (a broken promise in our own code): require(); ends as that photo's problem line.

#include <optional>
#include <source_location>
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>

namespace lotwear {

/// What happened to which file, and what to do next; one clear sentence.
struct Problem {
  std::string file;
  std::string what;
};

/// A value, or the Problem that kept us from it.
template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value) : held_(std::move(value)) {}
  Result(Problem problem) : held_(std::move(problem)) {}

  explicit operator bool() const { return std::holds_alternative<T>(held_); }
  const T& operator*() const& { return std::get<T>(held_); }
  T& operator*() & { return std::get<T>(held_); }
  T&& operator*() && { return std::get<T>(std::move(held_)); }
  const T* operator->() const { return &std::get<T>(held_); }
  T* operator->() { return &std::get<T>(held_); }
  const Problem& problem() const { return std::get<Problem>(held_); }

 private:
  std::variant<T, Problem> held_;
};

/// The job itself cannot be done; `what()` is the one line the user reads.
class Failure : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// A promise in our own code was broken.
class Broken : public std::logic_error {
 public:
  using std::logic_error::logic_error;
};

void require(bool kept, const char* promise, std::source_location where = std::source_location::current());

}  // namespace lotwear
