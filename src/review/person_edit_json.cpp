#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/trouble.hpp"
#include "review/person_edit.hpp"

namespace lotwear {

namespace {

using nlohmann::ordered_json;

constexpr std::array<std::string_view, 12> kSayable = {
    "kind",        "colour",         "action", "coats",   "adhesion",  "incompatible_below",
    "build_up_mm", "build_up_sound", "note",   "same_as", "confirmed", "false_alarm"};
constexpr std::size_t kLongestNote = 4000;

ordered_json object_of(const std::string& person) {
  ordered_json read = ordered_json::parse(person.empty() ? "null" : person);
  return read.is_object() ? read : ordered_json::object();
}

std::string text_of(const ordered_json& person) { return person.empty() ? "null" : person.dump(); }

double tenth(double value) { return std::round(value * 10) / 10; }

ordered_json named(const std::string& name) { return name.empty() ? ordered_json(nullptr) : ordered_json(name); }

ordered_json parsed(const std::string& fields) {
  ordered_json read;
  try {
    read = ordered_json::parse(fields);
  } catch (const ordered_json::exception&) {
    throw Failure("what was sent is no JSON");
  }
  if (!read.is_object() || read.empty()) throw Failure("nothing was said");
  return read;
}

}  // namespace

std::string with_fields(const std::string& person, const std::string& fields) {
  ordered_json out = object_of(person);
  const ordered_json said = parsed(fields);
  for (const auto& [name, value] : said.items()) {
    if (std::find(kSayable.begin(), kSayable.end(), name) == kSayable.end())
      throw Failure(fmt::format("\"{}\" is nothing that a person can say here", name.substr(0, 40)));
    if (name == "note" && value.is_string() && value.get<std::string>().size() > kLongestNote)
      throw Failure(fmt::format("a note may have {} letters", kLongestNote));
    // an empty note and a mark that was taken off again are nothing said
    const bool nothing = value.is_null() || (name == "note" && value == "") ||
                         ((name == "confirmed" || name == "false_alarm") && value == false);
    if (nothing) {
      out.erase(name);
    } else {
      out[name] = value;
    }
  }
  return text_of(out);
}

std::string with_outline(const std::string& person, const std::vector<ImageRing>& outline, const Condition& condition,
                         const EvidenceNames& pictures) {
  ordered_json out = object_of(person), rings = ordered_json::array();
  for (const ImageRing& ring : outline) {
    ordered_json points = ordered_json::array();
    for (const ImagePoint& p : ring)
      points.push_back({tenth(p.x), tenth(p.y)});
    rings.push_back(std::move(points));
  }
  out["outline"] = std::move(rings);
  out["measured"] = ordered_json::parse(condition_text(condition));
  out["evidence"] = {{"photo", named(pictures.photo)}, {"plan", named(pictures.plan)}, {"loss", named(pictures.loss)}};
  return out.dump();
}

std::string without_outline(const std::string& person) {
  ordered_json out = object_of(person);
  for (const char* name : {"outline", "measured", "evidence"})
    out.erase(name);
  return text_of(out);
}

std::string said_words(const std::string& fields) {
  std::string words;
  const ordered_json said = parsed(fields);
  for (const auto& [name, value] : said.items()) {
    if (!words.empty()) words += ", ";
    std::string readable = name;
    std::replace(readable.begin(), readable.end(), '_', ' ');
    const std::string shown = value.is_string() ? value.get<std::string>() : value.dump();
    if (name == "note" && !value.is_null()) {
      words += "note";
    } else if (value.is_boolean() && (name == "confirmed" || name == "false_alarm")) {
      words += value.get<bool>() ? readable : "not " + readable;
    } else {
      words += value.is_null() ? readable + " taken back" : fmt::format("{} {}", readable, shown.substr(0, 60));
    }
  }
  return words;
}

}  // namespace lotwear
