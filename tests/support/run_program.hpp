#pragma once
// A program run as people run it: words in, exit code and both streams out. Linux: posix_spawn and wait4.

#include <fcntl.h>
#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/scratch_folder.hpp"

namespace lotwear::test {

struct Ran {
  int exit_code = -1;  ///< 128 + signal when it was killed
  std::string out, err;
  double peak_mb = 0;      ///< largest resident size
  double cpu_seconds = 0;  ///< user and system, all threads

  /// Lines of stderr that begin with these words.
  std::vector<std::string> lines_of(const std::string& beginning) const {
    std::vector<std::string> found;
    std::size_t at = 0;
    while (at < err.size()) {
      const std::size_t end = std::min(err.find('\n', at), err.size());
      if (err.compare(at, beginning.size(), beginning) == 0) found.push_back(err.substr(at, end - at));
      at = end + 1;
    }
    return found;
  }
};

/// The streams go through files in `folder`.
inline Ran run_program(const std::string& program, std::vector<std::string> words, const ScratchFolder& folder) {
  const std::string out = folder / "stdout.txt", err = folder / "stderr.txt";
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  posix_spawn_file_actions_addopen(&files, STDOUT_FILENO, out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
  posix_spawn_file_actions_addopen(&files, STDERR_FILENO, err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
  words.insert(words.begin(), program);
  std::vector<char*> arguments;
  for (std::string& word : words)
    arguments.push_back(word.data());
  arguments.push_back(nullptr);
  pid_t child = 0;
  const int failed = posix_spawn(&child, program.c_str(), &files, nullptr, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&files);
  if (failed != 0) throw std::runtime_error(program + " cannot be started");
  int status = 0;
  rusage used{};
  if (wait4(child, &status, 0, &used) != child) throw std::runtime_error(program + " was lost");
  const auto text = [](const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    return std::string(std::istreambuf_iterator<char>(in), {});
  };
  const auto seconds = [](timeval time) {
    return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
  };
  Ran ran;
  ran.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  ran.out = text(out);
  ran.err = text(err);
  ran.peak_mb = static_cast<double>(used.ru_maxrss) / 1024;
  ran.cpu_seconds = seconds(used.ru_utime) + seconds(used.ru_stime);
  return ran;
}

}  // namespace lotwear::test
