#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <random>
#include <string_view>

#include "base/trouble.hpp"
#include "support/sample_survey.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

using nlohmann::json;
using samples::small_lot;
using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::Not;

std::filesystem::path scratch(const std::string& name) {
  const std::filesystem::path folder = std::filesystem::path(testing::TempDir()) / ("lotwear-survey-" + name);
  std::filesystem::create_directories(folder);
  return folder;
}

/// Quick: without the flush to disk that write_file waits for.
void put(const std::filesystem::path& file, const std::string& text) { std::ofstream(file, std::ios::binary) << text; }

Survey read_back(const std::string& text, const std::string& name = "text") {
  const auto folder = scratch(name);
  put(folder / "survey.json", text);
  return load_survey(folder);
}

std::string complaint(const json& survey) {
  try {
    read_back(survey.dump(1), "complaint");
  } catch (const Failure& failure) {
    return failure.what();
  }
  return "no complaint";
}

json small_json() { return json::parse(survey_text(small_lot())); }

TEST(SurveyText, IsTheSameBytesAfterARoundTrip) {
  const std::string text = survey_text(small_lot());
  EXPECT_EQ(survey_text(read_back(text)), text);
  EXPECT_EQ(survey_text(small_lot()), text);
}

TEST(SurveyText, HasTheFieldsOfTheFormat) {
  const json survey = small_json();
  const json& arrow = survey["markings"][2];
  EXPECT_EQ(survey["format"], "lotwear-survey");
  EXPECT_EQ(survey["made_by"]["program"], "lotwear");
  EXPECT_TRUE(survey["site"]["client"].is_null());
  EXPECT_EQ(survey["photos"][0]["plane"]["image_to_ground"],
            json::parse("[[2.0,0.0,0.0],[0.0,2.0,0.0],[0.0,0.0,1.0]]"));
  EXPECT_EQ(arrow["kind"], "arrow-straight");
  EXPECT_EQ(arrow["paint"]["remaining_percent"], 63.2);
  EXPECT_EQ(arrow["paint"]["low"], 60.9);
  EXPECT_EQ(arrow["loss"]["flaked_percent"], 30.2);
  EXPECT_EQ(arrow["loss"]["older_coat_colour"], "white");
  EXPECT_EQ(arrow["size"]["length_m"], 2.43);
  EXPECT_EQ(arrow["size"]["error_percent"], 1.9);
  EXPECT_EQ(arrow["flaking_grade"], json::parse(R"({"density": 5, "size": 5})"));
  EXPECT_EQ(arrow["action"], "grind-and-repaint");
  EXPECT_TRUE(arrow["person"].is_null());
  EXPECT_EQ(survey["problems"][0]["file"], "IMG_0420.HEIC");
}

TEST(SurveyText, ALegendsWordsAreKeptAndLeftOutWhereNoneWereRead) {
  Survey survey = small_lot();
  EXPECT_EQ(survey_text(survey).find("\"words\""), std::string::npos);
  survey.markings[0].words = "FIRE LANE";
  const SurveyMarking again = marking_from(marking_text(survey.markings[0]), "again");
  EXPECT_EQ(again.words, "FIRE LANE");
  EXPECT_EQ(words_of(again), "");  // an arrow says nothing
}

TEST(SurveyText, AbsentKnowledgeIsNull) {
  Survey survey = small_lot();
  survey.photos[0].taken.reset();
  survey.photos[0].position.reset();
  survey.photos[0].plane.reset();
  survey.markings[0].condition.size.reset();
  survey.markings[0].condition.flaking_grade.reset();
  survey.markings[0].condition.appearance.contrast.reset();
  survey.markings[0].evidence_plan.clear();
  const json text = json::parse(survey_text(survey));
  for (const char* field : {"taken", "position", "plane"})
    EXPECT_TRUE(text["photos"][0][field].is_null()) << field;
  for (const char* field : {"size", "flaking_grade", "same_as", "person"}) {
    EXPECT_TRUE(text["markings"][0][field].is_null()) << field;
  }
  EXPECT_TRUE(text["markings"][0]["appearance"]["contrast"].is_null());
  EXPECT_TRUE(text["markings"][0]["evidence"]["plan"].is_null());
  EXPECT_EQ(survey_text(read_back(survey_text(survey))), survey_text(survey));
}

// Four shares each rounded on its own add up to 99.9 to 100.2; what is printed must add up to 100.
TEST(SurveyText, RemainingAndLossesMake100) {
  for (int seed = 0; seed < 300; ++seed) {
    Survey survey = small_lot();
    Condition& seen = survey.markings[0].condition;
    const double a = std::fmod(seed * 0.618034, 1.0), b = std::fmod(seed * 0.414214, 1.0),
                 c = std::fmod(seed * 0.732051, 1.0);
    const double all = a + b + c + 0.5;
    seen.remaining = {{0}, {a / all}, {1}};
    seen.loss = {{b / all}, {c / all}, {0.5 / all}};
    seen.flaked = {{0}, seen.loss.flaked, {1}};
    const json marking = json::parse(survey_text(survey))["markings"][0];
    const double sum =
        marking["paint"]["remaining_percent"].get<double>() + marking["loss"]["abraded_percent"].get<double>() +
        marking["loss"]["flaked_percent"].get<double>() + marking["loss"]["cracked_percent"].get<double>();
    EXPECT_NEAR(sum, 100.0, 1e-9) << seed;
    EXPECT_NEAR(marking["paint"]["remaining_percent"].get<double>(), 100 * a / all, 0.0501) << seed;
    EXPECT_NEAR(marking["loss"]["flaked_percent"].get<double>(), 100 * c / all, 0.0501) << seed;
    EXPECT_NEAR(marking["loss"]["abraded_percent"].get<double>(), 100 * b / all, 0.2) << seed;
  }
}

TEST(SurveyText, ADecisionMadeAgainFromTheFileIsTheSame) {
  for (int share = 0; share <= 1000; share += 7) {
    Survey survey = small_lot();
    Condition& seen = survey.markings[0].condition;
    const double flaked = share / 3000.0;
    seen.remaining = samples::about(1 - flaked, 0.02);
    seen.loss = {{0}, {flaked}, {0}};
    seen.flaked = samples::about(flaked, 0.013);
    const Decision first = decide(seen, Kind::line, Policy{});
    const Survey read = read_back(survey_text(survey), "again");
    const Decision again = decide(read.markings[0].condition, Kind::line, Policy{});
    EXPECT_EQ(again.action, first.action) << flaked;
    EXPECT_EQ(again.needs_review, first.needs_review) << flaked;
    EXPECT_NEAR(again.action_confidence, first.action_confidence, 1e-9) << flaked;
  }
}

TEST(SurveyText, KeepsWhatAPersonSaidInItsOwnOrderAndWords) {
  Survey survey = small_lot();
  survey.markings[1].person_json =
      R"({"note": "Öl am Rand, \"again\"", "adhesion": 1, "later_field": [1, {"z": 0, "a": 2}]})";
  const std::string text = survey_text(survey);
  EXPECT_THAT(text, HasSubstr(survey.markings[1].person_json));
  const Survey read = read_back(text);
  EXPECT_EQ(read.markings[1].person_json, survey.markings[1].person_json);
  EXPECT_EQ(read.markings[1].person().adhesion, 1);
  EXPECT_EQ(read.markings[1].person().note, "Öl am Rand, \"again\"");
}

TEST(SurveyText, FileNamesOfAnyBytesStayWritable) {
  Survey survey = small_lot();
  survey.problems = {{"caf\xe9.jpg", "not an image"}};
  EXPECT_NO_THROW(read_back(survey_text(survey)));
}

TEST(SurveyText, PointsDoNotRunOneNumberALine) {
  const std::string text = survey_text(small_lot());
  EXPECT_THAT(text, HasSubstr("[[[100.0, 200.0], [140.0, 200.0], [140.0, 1200.0], [100.0, 1200.0]]]"));
}

TEST(SaveSurvey, WritesTheTextIntoTheFolder) {
  const auto folder = scratch("save");
  save_survey(small_lot(), folder);
  EXPECT_EQ(survey_text(load_survey(folder)), survey_text(small_lot()));
  EXPECT_EQ(survey_text(load_survey(folder / "survey.json")), survey_text(small_lot()));
}

TEST(LoadSurvey, FillsWhatAnEarlierFileDidNotSay) {
  json survey = small_json();
  for (const char* field :
       {"flaked_low", "flaked_high", "older_coat_percent", "older_coat_low", "older_coat_high", "older_coat_colour"}) {
    survey["markings"][2]["loss"].erase(field);
  }
  survey["markings"][2].erase("in_doubt");
  survey["a_field_of_next_year"] = {1, 2, 3};
  const Condition seen = read_back(survey.dump()).markings[2].condition;
  EXPECT_DOUBLE_EQ(seen.flaked.low.value, 0.302);
  EXPECT_DOUBLE_EQ(seen.flaked.high.value, 0.302);
  EXPECT_DOUBLE_EQ(seen.older_coat.value.value, 0);
}

TEST(LoadSurvey, NamesFileFieldAndLine) {
  const auto with = [](const char* pointer, const json& value) {
    json survey = small_json();
    survey[json::json_pointer(pointer)] = value;
    return complaint(survey);
  };
  EXPECT_THAT(with("/markings/1/kind", "zebra"),
              AllOf(HasSubstr("survey.json: line "), HasSubstr("markings[1].kind"), HasSubstr("zebra")));
  EXPECT_THAT(with("/markings/1/paint/remaining_percent", "63"), HasSubstr("markings[1].paint.remaining_percent"));
  EXPECT_THAT(with("/markings/1/paint/remaining_percent", 163), HasSubstr("from 0 to 100"));
  EXPECT_THAT(with("/markings/1/paint/low", 90), HasSubstr("must lie from low to high"));
  EXPECT_THAT(with("/markings/1/paint", nullptr), HasSubstr("markings[1].paint is missing"));
  EXPECT_THAT(with("/markings/1/outline", json::parse("[[[1, 2], [3]]]")), HasSubstr("markings[1].outline"));
  EXPECT_THAT(with("/markings/1/outline", json::parse("[[[1, 2], [3, 4]]]")), HasSubstr("at least three"));
  EXPECT_THAT(with("/markings/1/id", "M001"), HasSubstr("stands twice"));
  EXPECT_THAT(with("/markings/1/reasons", json::parse("[\"a\", 3]")), HasSubstr("markings[1].reasons"));
  EXPECT_THAT(with("/markings/1/person", json::parse("{\"adhesion\": 7}")), HasSubstr("markings[1].person.adhesion"));
  EXPECT_THAT(with("/markings/1", 5), HasSubstr("markings[1] must be an object"));
  EXPECT_THAT(with("/markings", "none"), HasSubstr("markings must be a list"));
  EXPECT_THAT(with("/photos/0/plane/image_to_ground", json::parse("[[1,2,3],[1,2,3]]")),
              HasSubstr("3 lists of 3 numbers"));
  EXPECT_THAT(with("/photos/0/width", 0), HasSubstr("photos[0].width"));
  EXPECT_THAT(with("/version", 2), HasSubstr("newer"));
  EXPECT_THAT(with("/format", "something"), HasSubstr("format"));
}

TEST(LoadSurvey, GivesTheLineOfTheFieldInAFilePeopleEdited) {
  const auto folder = scratch("line");
  std::string text = survey_text(small_lot());
  const std::size_t at = text.find("\"asphalt\"");
  const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n');
  text.replace(at, 9, "\"gravel\"");
  put(folder / "survey.json", text);
  try {
    load_survey(folder);
    FAIL();
  } catch (const Failure& failure) {
    EXPECT_THAT(failure.what(), HasSubstr("line " + std::to_string(line) + ", column"));
    EXPECT_THAT(failure.what(), HasSubstr("asphalt, concrete, other"));
  }
}

TEST(LoadSurvey, EveryTruncationIsOneClearSentence) {
  const std::string text = survey_text(small_lot());
  const auto folder = scratch("torn");
  for (std::size_t length = 0; length + 2 < text.size(); length += 97) {
    put(folder / "survey.json", text.substr(0, length));
    EXPECT_THROW(load_survey(folder), Failure) << length;
  }
  EXPECT_THROW(load_survey(folder / "nowhere"), Failure);
}

// Bytes changed at random, the same every time: whatever comes out, it is a survey or one clear sentence.
TEST(LoadSurvey, DamagedBytesAreASurveyOrAFailure) {
  const std::string text = survey_text(small_lot());
  const auto folder = scratch("damaged");
  std::minstd_rand random(7);
  int refused = 0;
  for (int round = 0; round < 600; ++round) {
    std::string damaged = text;
    for (int i = 0; i < 1 + round % 3; ++i) {
      constexpr std::string_view kBytes = "{}[]\",:0129-eE.ntf\\ \xff";
      damaged[random() % damaged.size()] = kBytes[random() % kBytes.size()];
    }
    put(folder / "survey.json", damaged);
    try {
      const Survey read = load_survey(folder);
      for (const SurveyMarking& marking : read.markings)
        decision_of(marking, Policy{});
      EXPECT_FALSE(survey_text(read).empty());
    } catch (const Failure&) {
      ++refused;
    }
  }
  EXPECT_GT(refused, 50);
  EXPECT_LT(refused, 600);
}

TEST(Person, WordsWinOverMeasurements) {
  Survey survey = small_lot();
  SurveyMarking& line = survey.markings[0];
  line.person_json = R"({"kind": "stop-line", "colour": "red", "action": "no-action", "same_as": "M002"})";
  EXPECT_EQ(kind_of(line), Kind::stop_line);
  EXPECT_EQ(colour_of(line), Colour::red);
  EXPECT_EQ(decision_of(line, Policy{}).action, Action::no_action);
  EXPECT_EQ(repeats(line), "M002");
  EXPECT_EQ(kind_of(survey.markings[1]), Kind::line);
  EXPECT_EQ(decision_of(survey.markings[1], Policy{}).action, Action::repaint);
}

TEST(Person, ATapePullChangesTheDecision) {
  SurveyMarking line = small_lot().markings[0];
  line.person_json = R"({"adhesion": 1})";
  EXPECT_EQ(decision_of(line, Policy{}).action, Action::grind_and_repaint);
}

TEST(Person, ACorrectedOutlineIsMeasuredOnThePlaneOfItsPhoto) {
  Survey survey = small_lot();  // 2 mm of ground to a pixel
  SurveyMarking& line = survey.markings[0];
  line.person_json = R"({"outline": [[[0, 0], [300, 400], [220, 460], [-80, 60]]]})";  // 500 x 100 px, turned
  const std::optional<Size> size = size_of(line, survey);
  ASSERT_TRUE(size);
  EXPECT_NEAR(size->area_m2, 0.2, 1e-9);
  EXPECT_NEAR(size->length_m, 1.0, 1e-9);
  EXPECT_NEAR(size->width_m, 0.2, 1e-9);
  EXPECT_NEAR(size->perimeter_m, 2.4, 1e-9);
  survey.photos[0].plane->scale_error_percent.reset();
  EXPECT_FALSE(size_of(line, survey));
}

TEST(PolicyOfSurvey, IsTheOneThatTheSurveyCarries) {
  Survey survey = small_lot();
  EXPECT_EQ(policy_of(survey).grind_flaked.value, 0.10);
  survey.policy_json = "null";
  EXPECT_EQ(policy_of(survey).repaint_below.value, 0.85);
}

}  // namespace
}  // namespace lotwear
