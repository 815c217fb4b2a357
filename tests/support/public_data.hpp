#pragma once
// The openly licensed photos that checks against outside values read. They are no part of this project:
// LOTWEAR_PUBLIC_DATA names their folder, else it is expected at ../shared/data beside the source tree.

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <string>

namespace lotwear::test {

inline std::filesystem::path public_data(const std::string& set) {
  const char* named = std::getenv("LOTWEAR_PUBLIC_DATA");
  const std::filesystem::path folder = named != nullptr
                                           ? std::filesystem::path(named)
                                           : std::filesystem::path(LOTWEAR_SOURCE).parent_path() / "shared" / "data";
  return folder / set;
}

}  // namespace lotwear::test

/// First line of a test that reads `set`. Without the photos the test is skipped, on a build server (CI is set) it
/// fails.
#define LOTWEAR_NEEDS_PUBLIC_DATA(set)                                                                             \
  if (!std::filesystem::is_directory(lotwear::test::public_data(set))) {                                           \
    if (std::getenv("CI") != nullptr) {                                                                            \
      FAIL() << lotwear::test::public_data(set) << " is missing; set LOTWEAR_PUBLIC_DATA to the public photos";    \
    }                                                                                                              \
    GTEST_SKIP() << lotwear::test::public_data(set) << " is missing; set LOTWEAR_PUBLIC_DATA to check against it"; \
  }                                                                                                                \
  static_assert(true, "a semicolon follows")
