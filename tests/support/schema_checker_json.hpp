#pragma once
// A published schema against what the program writes or reads. A small checker knows the words that our schemas use; it
// refuses words it does not know, so a schema cannot grow past it unnoticed. Where Python's jsonschema is installed,
// that full validator must agree.

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <regex>
#include <string>
#include <vector>

namespace lotwear::test {

using nlohmann::json;

inline bool has_type(const json& value, const std::string& type) {
  if (type == "integer") return value.is_number_integer();
  if (type == "number") return value.is_number();
  return type == value.type_name();
}

class SchemaChecker {
 public:
  explicit SchemaChecker(json schema) : root_(std::move(schema)) {}
  std::vector<std::string> complaints(const json& value) {
    found_.clear();
    check(root_, value, "");
    return found_;
  }

 private:
  void demand(bool kept, const std::string& where, const std::string& what) {
    if (!kept) found_.push_back(where + " " + what);
  }

  void check(const json& schema, const json& value, const std::string& where) {
    for (const auto& [word, rule] : schema.items())
      apply(word, rule, schema, value, where);
  }

  void apply(const std::string& word, const json& rule, const json& schema, const json& value,
             const std::string& where) {
    if (word == "$schema" || word == "title" || word == "description" || word == "$defs") return;
    if (word == "$ref") return check(root_.at(json::json_pointer(rule.get<std::string>().substr(1))), value, where);
    if (word == "const") return demand(value == rule, where, "is not " + rule.dump());
    if (word == "enum") return demand(std::find(rule.begin(), rule.end(), value) != rule.end(), where, "is not listed");
    if (word == "type") {
      const json types = rule.is_array() ? rule : json::array({rule});
      return demand(
          std::any_of(types.begin(), types.end(), [&](const json& t) { return has_type(value, t.get<std::string>()); }),
          where, "has another type than " + rule.dump());
    }
    if (word == "anyOf") {
      return demand(std::any_of(rule.begin(), rule.end(),
                                [&](const json& one) {
                                  SchemaChecker inner(root_);
                                  inner.check(one, value, where);
                                  return inner.found_.empty();
                                }),
                    where, "fits none of the choices");
    }
    if (word == "required") {
      if (!value.is_object()) return;
      for (const json& name : rule)
        demand(value.contains(name.get<std::string>()), where, "lacks " + name.dump());
      return;
    }
    if (word == "properties") {
      if (!value.is_object()) return;
      for (const auto& [name, part] : rule.items()) {
        if (value.contains(name)) check(part, value[name], where + "/" + name);
      }
      return;
    }
    if (word == "patternProperties") {
      if (!value.is_object()) return;
      for (const auto& [pattern, part] : rule.items()) {
        for (const auto& [name, inside] : value.items()) {
          if (std::regex_search(name, std::regex(pattern))) check(part, inside, where + "/" + name);
        }
      }
      return;
    }
    if (word == "additionalProperties") return others(rule, schema, value, where);
    if (word == "items") {
      if (!value.is_array()) return;
      for (std::size_t i = 0; i < value.size(); ++i)
        check(rule, value[i], where + "/" + std::to_string(i));
      return;
    }
    if (word == "minItems") return demand(!value.is_array() || value.size() >= rule, where, "is too short");
    if (word == "maxItems") return demand(!value.is_array() || value.size() <= rule, where, "is too long");
    if (word == "minimum") return demand(!value.is_number() || value >= rule, where, "is too small");
    if (word == "maximum") return demand(!value.is_number() || value <= rule, where, "is too large");
    if (word == "minLength")
      return demand(!value.is_string() || value.get<std::string>().size() >= rule, where, "is empty");
    if (word == "pattern") {
      return demand(
          !value.is_string() || std::regex_match(value.get<std::string>(), std::regex(rule.get<std::string>())), where,
          "has another form");
    }
    ADD_FAILURE() << "the checker does not know the schema word " << word << " in " << schema.dump();
  }

  /// Members that neither `properties` nor `patternProperties` names.
  void others(const json& rule, const json& schema, const json& value, const std::string& where) {
    if (!value.is_object()) return;
    for (const auto& [name, inside] : value.items()) {
      bool known = schema.contains("properties") && schema.at("properties").contains(name);
      if (schema.contains("patternProperties")) {
        for (const auto& [pattern, part] : schema.at("patternProperties").items())
          known = known || std::regex_search(name, std::regex(pattern));
      }
      if (known) continue;
      if (rule == json(false)) {
        demand(false, where + "/" + name, "is not known");
      } else {
        check(rule, inside, where + "/" + name);
      }
    }
  }

  json root_;
  std::vector<std::string> found_;
};

enum class Validated { yes, no, not_installed };

/// By Python's jsonschema; the schema itself is checked too.
inline Validated by_full_validator(const std::filesystem::path& schema, const std::filesystem::path& file) {
  constexpr int kNotInstalled = 77, kNoSuchProgram = 127;
  const std::string script =
      "import sys, json\ntry:\n import jsonschema\nexcept ImportError:\n sys.exit(77)\n"
      "schema, value = (json.load(open(name)) for name in sys.argv[1:])\n"
      "jsonschema.Draft202012Validator.check_schema(schema)\n"
      "jsonschema.Draft202012Validator(schema).validate(value)\n";
  // The system's own Python: that is where Debian puts the package.
  const std::string python = std::filesystem::exists("/usr/bin/python3") ? "/usr/bin/python3" : "python3";
  const std::string command =
      python + " -W ignore -c '" + script + "' '" + schema.string() + "' '" + file.string() + "'";
  const int status = std::system(command.c_str());
  const int code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  if (code == kNotInstalled || code == kNoSuchProgram) return Validated::not_installed;
  return code == 0 ? Validated::yes : Validated::no;
}

}  // namespace lotwear::test
