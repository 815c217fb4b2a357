#pragma once
// A shell command with both its streams, for the tools that look at what we write (qpdf, pdftotext, pdftoppm).

#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <string>

namespace lotwear::test {

struct ShellRan {
  int status = 0;
  std::string output;
};

inline ShellRan shell(const std::string& command) {
  ShellRan ran;
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  std::array<char, 4096> part{};
  while (const std::size_t n = std::fread(part.data(), 1, part.size(), pipe))
    ran.output.append(part.data(), n);
  const int closed = ::pclose(pipe);
  ran.status = WIFEXITED(closed) ? WEXITSTATUS(closed) : -1;
  return ran;
}

inline bool installed(const std::string& program) { return shell("command -v " + program).status == 0; }

inline int times_in(const std::string& text, const std::string& words) {
  int n = 0;
  for (std::size_t at = text.find(words); at != std::string::npos; at = text.find(words, at + 1))
    ++n;
  return n;
}

}  // namespace lotwear::test

/// Skips a test without the program; fails where `CI` is set, because a build server is where it must run.
#define LOTWEAR_NEEDS(program)                                                            \
  do {                                                                                    \
    if (!::lotwear::test::installed(program)) {                                           \
      ASSERT_EQ(std::getenv("CI"), nullptr) << "a build server has " << (program);        \
      GTEST_SKIP() << (program) << " is not installed, so nothing was looked at with it"; \
    }                                                                                     \
  } while (false)
