// The published schema against what the program writes. A small checker knows the words that the schema uses; it
// refuses words it does not know, so the schema cannot grow past it unnoticed. Where Python's jsonschema is installed,
// that full validator must agree.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <regex>

#include "base/files.hpp"
#include "support/sample_survey.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

const std::filesystem::path kSchemaFile = std::filesystem::path(LOTWEAR_MODELS) / "schema" / "survey.schema.json";

bool has_type(const json& value, const std::string& type) {
  if (type == "integer") return value.is_number_integer();
  if (type == "number") return value.is_number();
  return type == value.type_name();
}

class Checker {
 public:
  explicit Checker(json schema) : root_(std::move(schema)) {}
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
                                  Checker inner(root_);
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

  json root_;
  std::vector<std::string> found_;
};

Survey full_survey() {
  Survey survey = samples::small_lot();
  survey.markings[1].person_json =
      R"({"kind": "stop-line", "adhesion": 4, "outline": [[[1, 2], [3, 4], [5, 6.5]]], "note": "x"})";
  survey.markings[1].same_as = "M001";
  survey.markings[0].condition.size.reset();
  survey.photos.push_back(samples::photo("IMG_0002.jpg", 'b'));
  survey.photos[1].plane.reset();
  survey.photos[1].position.reset();
  return survey;
}

TEST(SurveySchema, AcceptsWhatTheProgramWrites) {
  Checker checker(json::parse(read_file(kSchemaFile)));
  EXPECT_THAT(checker.complaints(json::parse(survey_text(full_survey()))), IsEmpty());
  EXPECT_THAT(checker.complaints(json::parse(survey_text(Survey{}))), IsEmpty());
}

TEST(SurveySchema, RefusesWhatThePageForbids) {
  Checker checker(json::parse(read_file(kSchemaFile)));
  const json good = json::parse(survey_text(full_survey()));
  const std::vector<std::pair<const char*, json>> wrongs = {{"/markings/0/kind", "zebra"},
                                                            {"/markings/0/paint/remaining_percent", -1},
                                                            {"/markings/0/paint/low", nullptr},
                                                            {"/markings/0/size", 0},
                                                            {"/markings/0/outline/0/0", {1, 2, 3}},
                                                            {"/markings/0/needs_review", "no"},
                                                            {"/markings/1/person/adhesion", 6},
                                                            {"/markings/0/flaking_grade", {{"density", 5}}},
                                                            {"/photos/0/sha256", "abc"},
                                                            {"/photos/0/plane/image_to_ground", {1, 2}},
                                                            {"/markings/0/action", "grind"},
                                                            {"/version", 2}};
  for (const auto& [pointer, value] : wrongs) {
    json bad = good;
    bad[json::json_pointer(pointer)] = value;
    EXPECT_THAT(checker.complaints(bad), Not(IsEmpty())) << pointer;
  }
}

TEST(SurveySchema, AFullValidatorAgrees) {
  const std::filesystem::path folder = std::filesystem::path(testing::TempDir()) / "lotwear-schema";
  std::filesystem::create_directories(folder);
  save_survey(full_survey(), folder);
  constexpr int kNotInstalled = 77;
  const std::string script =
      "import sys, json\ntry:\n import jsonschema\nexcept ImportError:\n sys.exit(77)\n"
      "schema, survey = (json.load(open(name)) for name in sys.argv[1:])\n"
      "jsonschema.Draft202012Validator.check_schema(schema)\n"
      "jsonschema.Draft202012Validator(schema).validate(survey)\n";
  const std::string command = "python3 -W ignore -c '" + script + "' '" + kSchemaFile.string() + "' '" +
                              (folder / "survey.json").string() + "'";
  const int status = std::system(command.c_str());
  const int code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  constexpr int kNoSuchProgram = 127;
  if (code == kNotInstalled || code == kNoSuchProgram) {
    GTEST_SKIP() << "python3-jsonschema is not installed; the small checker above stands alone";
  }
  EXPECT_EQ(code, 0);
}

}  // namespace
}  // namespace lotwear
