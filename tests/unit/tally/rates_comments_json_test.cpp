// The shipped rates explain themselves: every field has its comment, in its own words or in those of its list.

#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "base/files.hpp"

namespace lotwear {
namespace {

using nlohmann::json;

/// Lists whose entries a person names (kinds, colours, methods, extras) are explained once, by a `_comment` in
/// the list or the comment on the list.
void look_at(const json& object, const std::string& path, bool as_list) {
  const bool explained = as_list || object.contains("_comment");
  for (const auto& [name, value] : object.items()) {
    if (name.starts_with("_")) {
      const bool of_something = name == "_comment" || object.contains(name.substr(1));
      EXPECT_TRUE(of_something) << path << name << " explains a field that is not there";
      continue;
    }
    if (value.is_object()) {
      look_at(value, path + name + ".", object.contains("_" + name));
    } else {
      EXPECT_TRUE(object.contains("_" + name) || explained) << path << name << " has no comment";
    }
  }
}

TEST(ShippedRates, EveryFieldHasItsComment) {
  const json root = json::parse(read_file(std::filesystem::path(LOTWEAR_MODELS) / "rates.json"));
  json but_root = root;
  but_root.erase("_comment");  // the page's head explains the file, not its fields
  look_at(but_root, "", false);
}

TEST(ShippedRates, SayWhereFiguresComeFrom) {
  const std::string text = read_file(std::filesystem::path(LOTWEAR_MODELS) / "rates.json");
  for (const char* source : {"Ohio CMS 2010, 643.04", "Ohio CMS 2010, 646", "UFGS 02761N", "UFGS 02763A",
                             "MIL-HDBK-1110", "29 CFR 1926.1153", "Common practice, no source", "Invented example"})
    EXPECT_NE(text.find(source), std::string::npos) << source;
}

}  // namespace
}  // namespace lotwear
