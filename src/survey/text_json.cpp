#include "survey/text_json.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace lotwear {

namespace {

using nlohmann::ordered_json;

constexpr std::size_t kWidth = 120;

std::string scalar(const ordered_json& value) {
  return value.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

std::string quoted(const std::string& key) { return scalar(ordered_json(key)); }

/// Appends the value as one line; false, with part of it there, as soon as the line is longer than `most`.
bool on_one_line(std::string& line, const ordered_json& value, std::size_t most) {
  if (!value.is_structured()) {
    line += scalar(value);
    return line.size() <= most;
  }
  line += value.is_object() ? '{' : '[';
  bool first = true;
  for (auto at = value.begin(); at != value.end(); ++at) {
    if (!first) line += ", ";
    first = false;
    if (value.is_object()) line += quoted(at.key()) + ": ";
    if (!on_one_line(line, at.value(), most)) return false;
  }
  line += value.is_object() ? '}' : ']';
  return line.size() <= most;
}

/// A ring of points: long, but nobody reads it number by number.
bool is_row_of_numbers(const ordered_json& value) {
  return value.is_array() && std::all_of(value.begin(), value.end(), [](const ordered_json& one) {
           return one.is_number() ||
                  (one.is_array() && std::all_of(one.begin(), one.end(), [](const auto& n) { return n.is_number(); }));
         });
}

/// Most of a survey is outlines: one call of the library a ring, not one a number.
void append_row(std::string& out, const ordered_json& row) {
  for (const char c : scalar(row)) {
    out += c;
    if (c == ',') out += ' ';
  }
}

void print(std::string& out, const ordered_json& value, std::size_t indent, std::size_t used) {
  if (!value.is_structured() || value.empty()) {
    out += scalar(value);
    return;
  }
  if (is_row_of_numbers(value)) {
    append_row(out, value);
    return;
  }
  // bounded: all of a large file would be written at every level otherwise, only to find that it does not fit
  std::string line;
  if (on_one_line(line, value, kWidth > used ? kWidth - used - 1 : 0)) {
    out += line;
    return;
  }
  out += value.is_object() ? '{' : '[';
  bool first = true;
  for (auto at = value.begin(); at != value.end(); ++at) {
    out += first ? "\n" : ",\n";
    first = false;
    out.append(indent + 2, ' ');
    std::size_t before = indent + 2;
    if (value.is_object()) {
      const std::string key = quoted(at.key()) + ": ";
      out += key;
      before += key.size();
    }
    print(out, at.value(), indent + 2, before);
  }
  out += '\n';
  out.append(indent, ' ');
  out += value.is_object() ? '}' : ']';
}

}  // namespace

std::string readable(const ordered_json& value) {
  std::string out;
  print(out, value, 0, 0);
  out += '\n';
  return out;
}

}  // namespace lotwear
