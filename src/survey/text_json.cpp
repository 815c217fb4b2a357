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

std::string on_one_line(const ordered_json& value) {
  if (!value.is_structured()) return scalar(value);
  std::string line(1, value.is_object() ? '{' : '[');
  for (auto at = value.begin(); at != value.end(); ++at) {
    if (line.size() > 1) line += ", ";
    if (value.is_object()) line += quoted(at.key()) + ": ";
    line += on_one_line(at.value());
  }
  return line + (value.is_object() ? '}' : ']');
}

/// A ring of points: long, but nobody reads it number by number.
bool is_row_of_numbers(const ordered_json& value) {
  return value.is_array() && std::all_of(value.begin(), value.end(), [](const ordered_json& one) {
           return one.is_number() ||
                  (one.is_array() && std::all_of(one.begin(), one.end(), [](const auto& n) { return n.is_number(); }));
         });
}

void print(std::string& out, const ordered_json& value, std::size_t indent, std::size_t used) {
  const std::string line = on_one_line(value);
  if (!value.is_structured() || value.empty() || used + line.size() < kWidth || is_row_of_numbers(value)) {
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
