#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/trouble.hpp"
#include "policy/fields.hpp"

namespace lotwear {

namespace {

using nlohmann::json;

constexpr int kDeepest = 64;  // nobody nests a survey this deep; the printer of the JSON library recurses

// The functions below walk text that the parser has already accepted.

std::size_t skip_space(std::string_view text, std::size_t at) {
  while (at < text.size() && (text[at] == ' ' || text[at] == '\t' || text[at] == '\n' || text[at] == '\r'))
    ++at;
  return at;
}

std::size_t skip_string(std::string_view text, std::size_t at) {
  for (++at; at < text.size() && text[at] != '"'; ++at) {
    if (text[at] == '\\') ++at;
  }
  return std::min(at + 1, text.size());
}

std::size_t skip_value(std::string_view text, std::size_t at) {
  int depth = 0;
  while (at < text.size()) {
    const char c = text[at];
    if (c == '"') {
      at = skip_string(text, at);
      if (depth == 0) return at;
      continue;
    }
    if (c == '{' || c == '[') ++depth;
    if (c == '}' || c == ']') {
      if (depth == 0) return at;
      if (--depth == 0) return at + 1;
    }
    if (depth == 0 && (c == ',' || c == ' ' || c == '\n' || c == '\r' || c == '\t')) return at;
    ++at;
  }
  return at;
}

int depth_of(std::string_view text) {
  int depth = 0, deepest = 0;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] == '"') {
      at = skip_string(text, at) - 1;
    } else if (text[at] == '{' || text[at] == '[') {
      deepest = std::max(deepest, ++depth);
    } else if (text[at] == '}' || text[at] == ']') {
      --depth;
    }
  }
  return deepest;
}

std::string key_of(std::string_view quoted) {
  return quoted.find('\\') == std::string_view::npos ? std::string(quoted.substr(1, quoted.size() - 2))
                                                     : json::parse(quoted).get<std::string>();
}

/// Start of the member's value; the last one when a name stands twice, as the parser does. `from` is the opening brace.
std::optional<std::size_t> member(std::string_view text, std::size_t from, const std::string& name) {
  std::optional<std::size_t> found;
  for (std::size_t at = skip_space(text, from + 1); at < text.size() && text[at] == '"';) {
    const std::size_t key_end = skip_string(text, at);
    const std::string key = key_of(text.substr(at, key_end - at));
    const std::size_t value = skip_space(text, skip_space(text, key_end) + 1);
    if (key == name) found = value;
    at = skip_space(text, skip_value(text, value));
    if (at < text.size() && text[at] == ',') at = skip_space(text, at + 1);
  }
  return found;
}

std::string line_and_column(std::string_view text, std::size_t at) {
  const std::string_view before = text.substr(0, std::min(at, text.size()));
  const auto line = std::count(before.begin(), before.end(), '\n') + 1;
  const std::size_t start = before.rfind('\n');
  const std::size_t column = start == std::string_view::npos ? before.size() + 1 : before.size() - start;
  return fmt::format("line {}, column {}", line, column);
}

std::string shown(const json& value) {
  std::string text = value.dump(-1, ' ', false, json::error_handler_t::replace);
  constexpr std::size_t kLongest = 40;
  return text.size() <= kLongest ? text : fmt::format("{} of {} bytes", value.type_name(), text.size());
}

std::string limits(double low, double high) {
  if (std::isinf(high)) return fmt::format("{:g} or more", low);
  return fmt::format("from {:g} to {:g}", low, high);
}

}  // namespace

struct Fields::File {
  std::string text, name;
  json root;
};

Fields::Fields(std::shared_ptr<const File> file, const json* here, std::size_t at, std::string path)
    : file_(std::move(file)), here_(here), at_(at), path_(std::move(path)) {}

Fields Fields::of_text(std::string text, std::string file) {
  auto held = std::make_shared<File>();
  held->name = std::move(file);
  held->text = std::move(text);
  if (depth_of(held->text) > kDeepest) {
    throw Failure(fmt::format("{}: nested deeper than {} levels; this is no file of ours", held->name, kDeepest));
  }
  try {
    held->root = json::parse(held->text);
  } catch (const json::parse_error& error) {
    const std::size_t at = error.byte > 0 ? error.byte - 1 : 0;
    throw Failure(fmt::format("{}: not valid JSON at {}; a comma, a quote or the rest of the file may be missing",
                              held->name, line_and_column(held->text, at)));
  } catch (const json::exception&) {
    throw Failure(fmt::format("{}: holds a number too large to read; correct it", held->name));
  }
  if (!held->root.is_object()) {
    throw Failure(fmt::format("{}: holds {} where one JSON object was expected", held->name, held->root.type_name()));
  }
  const json* root = &held->root;
  const std::size_t at = skip_space(held->text, 0);
  return {std::move(held), root, at, ""};
}

const json* Fields::find(std::string_view name) const {
  const auto at = here_->find(std::string(name));
  return at == here_->end() || at->is_null() ? nullptr : &*at;
}

const json& Fields::need(std::string_view name) const {
  const json* value = find(name);
  if (value == nullptr) refuse(name, "is missing");
  return *value;
}

std::size_t Fields::start_of(std::string_view name) const {
  return member(file_->text, at_, std::string(name)).value_or(at_);
}

std::string Fields::path_to(std::string_view name) const {
  if (path_.empty() || name.empty()) return path_ + std::string(name);
  return fmt::format("{}.{}", path_, name);
}

bool Fields::has(std::string_view name) const { return find(name) != nullptr; }

bool Fields::is_number(std::string_view name) const {
  const json* value = find(name);
  return value != nullptr && value->is_number();
}

void Fields::refuse(std::string_view name, const std::string& what) const {
  const std::size_t at = name.empty() ? at_ : start_of(name);
  throw Failure(fmt::format("{}: {}: {} {}", file_->name, line_and_column(file_->text, at), path_to(name), what));
}

double Fields::number(std::string_view name, double low, double high) const {
  const json& value = need(name);
  const double number = value.is_number() ? value.get<double>() : std::nan("");
  if (!(number >= low && number <= high)) {
    refuse(name, fmt::format("must be a number {}, not {}", limits(low, high), shown(value)));
  }
  return number;
}

std::optional<double> Fields::number_if(std::string_view name, double low, double high) const {
  if (!has(name)) return std::nullopt;
  return number(name, low, high);
}

int Fields::whole(std::string_view name, int low, int high) const {
  const json& value = need(name);
  const double number = value.is_number() ? value.get<double>() : std::nan("");
  if (!(number >= low && number <= high) || number != std::floor(number)) {
    refuse(name, fmt::format("must be a whole number from {} to {}, not {}", low, high, shown(value)));
  }
  return static_cast<int>(number);
}

std::optional<int> Fields::whole_if(std::string_view name, int low, int high) const {
  if (!has(name)) return std::nullopt;
  return whole(name, low, high);
}

std::optional<bool> Fields::flag_if(std::string_view name) const {
  const json* value = find(name);
  if (value == nullptr) return std::nullopt;
  if (!value->is_boolean()) refuse(name, "must be true or false, not " + shown(*value));
  return value->get<bool>();
}

std::string Fields::text(std::string_view name) const {
  const json& value = need(name);
  if (!value.is_string()) refuse(name, "must be text in quotes, not " + shown(value));
  return value.get<std::string>();
}

std::optional<std::string> Fields::text_if(std::string_view name) const {
  if (!has(name)) return std::nullopt;
  return text(name);
}

std::vector<std::string> Fields::texts(std::string_view name) const {
  const json* value = find(name);
  if (value == nullptr) return {};
  if (!value->is_array()) refuse(name, "must be a list of texts, not " + shown(*value));
  std::vector<std::string> all;
  all.reserve(value->size());
  for (const json& one : *value) {
    if (!one.is_string()) refuse(name, "must hold only texts, not " + shown(one));
    all.push_back(one.get<std::string>());
  }
  return all;
}

std::vector<double> Fields::grid(std::string_view name, std::size_t rows, std::size_t columns) const {
  const json& value = need(name);
  const auto wrong = [&] { refuse(name, fmt::format("must be {} lists of {} numbers", rows, columns)); };
  if (!value.is_array() || value.size() != rows) wrong();
  std::vector<double> all;
  all.reserve(rows * columns);
  for (const json& row : value) {
    if (!row.is_array() || row.size() != columns) wrong();
    for (const json& one : row) {
      if (!one.is_number()) wrong();
      all.push_back(one.get<double>());
    }
  }
  return all;
}

Fields Fields::object(std::string_view name) const {
  const json& value = need(name);
  if (!value.is_object()) refuse(name, "must be an object { ... }, not " + shown(value));
  return {file_, &value, start_of(name), path_to(name)};
}

std::optional<Fields> Fields::object_if(std::string_view name) const {
  if (!has(name)) return std::nullopt;
  return object(name);
}

std::vector<Fields> Fields::objects(std::string_view name, std::size_t at_most) const {
  const json* value = find(name);
  if (value == nullptr) return {};
  if (!value->is_array()) refuse(name, "must be a list of objects, not " + shown(*value));
  if (value->size() > at_most)
    refuse(name, fmt::format("holds {} entries; at most {} are read", value->size(), at_most));
  std::vector<Fields> all;
  all.reserve(value->size());
  std::size_t at = skip_space(file_->text, start_of(name) + 1);
  for (std::size_t i = 0; i < value->size(); ++i) {
    const Fields one(file_, &(*value)[i], at, fmt::format("{}[{}]", path_to(name), i));
    if (!one.here_->is_object()) one.refuse("", "must be an object { ... }, not " + shown(*one.here_));
    all.push_back(one);
    at = skip_space(file_->text, skip_space(file_->text, skip_value(file_->text, at)) + 1);
  }
  return all;
}

std::vector<std::vector<std::pair<double, double>>> Fields::rings(std::string_view name,
                                                                  std::size_t most_points) const {
  const json& value = need(name);
  const char* expected = "must be a list of rings, each a list of at least three [x, y] points";
  if (!value.is_array()) refuse(name, expected);
  std::vector<std::vector<std::pair<double, double>>> all;
  std::size_t points = 0;
  for (const json& ring : value) {
    if (!ring.is_array() || ring.size() < 3) refuse(name, expected);
    points += ring.size();
    if (points > most_points) refuse(name, fmt::format("holds more than {} points", most_points));
    auto& read = all.emplace_back();
    read.reserve(ring.size());
    for (const json& point : ring) {
      if (!point.is_array() || point.size() != 2 || !point[0].is_number() || !point[1].is_number())
        refuse(name, expected);
      read.emplace_back(point[0].get<double>(), point[1].get<double>());
    }
  }
  return all;
}

std::string Fields::verbatim(std::string_view name) const {
  if (!has(name)) return "null";
  const std::size_t from = start_of(name);
  return file_->text.substr(from, skip_value(file_->text, from) - from);
}

std::vector<std::string> Fields::names() const {
  std::vector<std::string> all;
  for (const auto& [name, value] : here_->items()) {
    if (!name.starts_with('_')) all.push_back(name);
  }
  return all;
}

void Fields::allow_only(std::initializer_list<std::string_view> known) const {
  for (const std::string& name : names()) {
    if (std::find(known.begin(), known.end(), name) == known.end()) {
      refuse(name, "is not a known field; correct its name, or begin it with an underscore to keep it as a comment");
    }
  }
}

}  // namespace lotwear
