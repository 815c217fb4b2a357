// The published schema against what the program writes.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "base/files.hpp"
#include "support/sample_survey.hpp"
#include "support/schema_checker_json.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

const std::filesystem::path kSchemaFile = std::filesystem::path(LOTWEAR_MODELS) / "schema" / "survey.schema.json";

Survey full_survey() {
  Survey survey = samples::small_lot();
  survey.markings[1].person_json =
      R"({"kind": "stop-line", "adhesion": 4, "outline": [[[1, 2], [3, 4], [5, 6.5]]], "note": "x"})";
  survey.markings[1].same_as = "M001";
  survey.revision = 12;
  survey.markings[2].person_json =
      R"({"added": true, "false_alarm": true, "outline": [[[1, 2], [3, 4], [5, 6.5]]], "measured": )" +
      condition_text(survey.markings[2].condition) +
      R"(, "evidence": {"photo": "evidence/M003-r1-photo.jpg", "plan": null, "loss": null}})";
  survey.markings[0].condition.size.reset();
  survey.photos.push_back(samples::photo("IMG_0002.jpg", 'b'));
  survey.photos[1].plane.reset();
  survey.photos[1].position.reset();
  return survey;
}

TEST(SurveySchema, AcceptsWhatTheProgramWrites) {
  test::SchemaChecker checker(json::parse(read_file(kSchemaFile)));
  EXPECT_THAT(checker.complaints(json::parse(survey_text(full_survey()))), IsEmpty());
  EXPECT_THAT(checker.complaints(json::parse(survey_text(Survey{}))), IsEmpty());
}

TEST(SurveySchema, RefusesWhatThePageForbids) {
  test::SchemaChecker checker(json::parse(read_file(kSchemaFile)));
  const json good = json::parse(survey_text(full_survey()));
  const std::vector<std::pair<const char*, json>> wrongs = {{"/markings/0/kind", "zebra"},
                                                            {"/markings/0/words", 7},
                                                            {"/markings/0/paint/remaining_percent", -1},
                                                            {"/markings/0/paint/low", nullptr},
                                                            {"/markings/0/size", 0},
                                                            {"/markings/0/outline/0/0", {1, 2, 3}},
                                                            {"/markings/0/needs_review", "no"},
                                                            {"/markings/1/person/adhesion", 6},
                                                            {"/markings/2/person/false_alarm", "yes"},
                                                            {"/markings/2/person/measured/paint/low", 101},
                                                            {"/revision", 0},
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
  const test::Validated said = test::by_full_validator(kSchemaFile, folder / "survey.json");
  if (said == test::Validated::not_installed)
    GTEST_SKIP() << "python3-jsonschema is not installed; the small checker stands alone";
  EXPECT_EQ(said, test::Validated::yes);
}

}  // namespace
}  // namespace lotwear
