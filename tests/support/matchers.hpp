#pragma once
// What tests ask of results in words.

#include <gmock/gmock.h>

#include <string>

#include "base/trouble.hpp"

namespace lotwear::test {

/// A Problem about that file whose sentence holds the words.
MATCHER_P2(IsProblem, file, words, std::string("is a problem of ") + file + " that says \"" + words + "\"") {
  if (arg) {
    *result_listener << "there is no problem";
    return false;
  }
  *result_listener << "it says \"" << arg.problem().file << ": " << arg.problem().what << '"';
  const std::string& what = arg.problem().what;
  return arg.problem().file == file && what.find(words) != std::string::npos && what.find('\n') == std::string::npos;
}

}  // namespace lotwear::test
