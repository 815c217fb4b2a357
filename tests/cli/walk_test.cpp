// The usual order, by the program: assess, a person's word, assess again, estimate, report.

#include <gmock/gmock.h>

#include <regex>

#include "base/files.hpp"
#include "support/rendered_photo.hpp"
#include "support/run_program.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

std::vector<std::string> names_in(const fs::path& folder) {
  std::vector<std::string> names;
  for (const auto& entry : fs::directory_iterator(folder))
    names.push_back(entry.path().filename().string());
  std::sort(names.begin(), names.end());
  return names;
}

test::Ran lotwear(const test::ScratchFolder& folder, const std::vector<std::string>& words) {
  return test::run_program(LOTWEAR_PROGRAM, words, folder);
}

TEST(Walk, FromPhotosToTheReport) {
  const test::ScratchFolder folder;
  folder.put("photos/a.jpg", test::rendered_photo(80'000));
  folder.put("photos/b.jpg", test::rendered_photo(80'001));
  const test::Ran first = lotwear(folder, {"assess", folder / "photos", "-o", folder / "survey", "--site", "Fen Yard"});
  ASSERT_EQ(first.exit_code, 0) << first.err;
  EXPECT_THAT(first.err, HasSubstr("[2/2]"));
  EXPECT_THAT(first.out, IsEmpty());
  const Survey before = load_survey(folder / "survey");
  ASSERT_GE(before.markings.size(), 2U);
  for (const SurveyMarking& marking : before.markings) {
    for (const std::string& file : {marking.evidence_photo, marking.evidence_plan, marking.evidence_loss})
      EXPECT_GT(fs::file_size(folder.path() / "survey" / file), 500U) << file;
  }
  EXPECT_EQ(names_in(folder / "survey/evidence").size(), 3 * before.markings.size());

  // A person writes down what was found by hand.
  std::string text = read_file(folder / "survey/survey.json");
  const std::string nobody = "\"person\": null";
  text.replace(text.find(nobody), nobody.size(),
               R"("person": {"note": "tape pulled it off", "adhesion": 1, "confirmed": true})");
  write_file(folder / "survey/survey.json", text);

  const test::Ran second = lotwear(folder, {"assess", folder / "photos", "-o", folder / "survey", "--quiet"});
  ASSERT_EQ(second.exit_code, 0) << second.err;
  EXPECT_EQ(second.err.find("[1/2]"), std::string::npos);
  const Survey after = load_survey(folder / "survey");
  ASSERT_EQ(after.markings.size(), before.markings.size());
  EXPECT_EQ(after.markings[0].id, before.markings[0].id);
  EXPECT_EQ(after.markings[0].person().note, "tape pulled it off");
  EXPECT_EQ(after.markings[0].decision.action, Action::grind_and_repaint);  // adhesion class 1: action policy
  EXPECT_EQ(after.site.name, "Fen Yard");
  EXPECT_EQ(names_in(folder / "survey/evidence").size(), 3 * after.markings.size());

  const test::Ran priced = lotwear(folder, {"estimate", folder / "survey", "--units", "metric"});
  ASSERT_EQ(priced.exit_code, 0) << priced.err;
  EXPECT_THAT(priced.out, HasSubstr("total"));
  EXPECT_THAT(read_file(folder / "survey/estimate.csv"), HasSubstr("grind-and-repaint"));
  EXPECT_GT(fs::file_size(folder / "survey/estimate.json"), 200U);

  EXPECT_EQ(read_file(folder / "survey/estimate.xlsx").substr(0, 2), "PK");
  EXPECT_THAT(read_file(folder / "survey/markings.geojson"), HasSubstr("FeatureCollection"));

  const test::Ran told = lotwear(folder, {"report", folder / "survey", "--date", "2026-04-11"});
  ASSERT_EQ(told.exit_code, 0) << told.err;
  const std::string html = read_file(folder / "survey/report.html");
  EXPECT_THAT(html, HasSubstr("Fen Yard"));
  EXPECT_THAT(html, HasSubstr("tape pulled it off"));
  EXPECT_THAT(html, HasSubstr(after.photos[0].sha256));
  EXPECT_FALSE(std::regex_search(html, std::regex("src=\"(?!data:)")));  // one file, nothing beside it
  EXPECT_EQ(read_file(folder / "survey/report.pdf").substr(0, 5), "%PDF-");
}

TEST(Walk, WhatTwoPhotosShowIsCountedOnceUnlessAPersonSaysNo) {
  using namespace rendering;
  const test::ScratchFolder folder;
  const ScenePlan plan = draw_scene(Tier::clear, 80'003, 3, load_shapes(LOTWEAR_MODELS));
  folder.put("photos/a.jpg", render(plan).photo);
  folder.put("photos/b.jpg", render(draw_again(plan)).photo);
  folder.put("photos/c.jpg", test::rendered_photo(80'001, 3));
  ASSERT_EQ(lotwear(folder, {"assess", folder / "photos", "-o", folder / "survey"}).exit_code, 0);
  const Survey survey = load_survey(folder / "survey");
  const auto again = std::find_if(survey.markings.begin(), survey.markings.end(),
                                  [](const SurveyMarking& m) { return m.same_as.has_value(); });
  ASSERT_NE(again, survey.markings.end());
  const auto other = std::find_if(survey.markings.begin(), survey.markings.end(),
                                  [&](const SurveyMarking& m) { return m.id == *again->same_as; });
  ASSERT_NE(other, survey.markings.end());
  EXPECT_FALSE(other->same_as) << "one that is counted";
  EXPECT_EQ(other->kind, again->kind);
  EXPECT_NE(other->photo, again->photo);
  EXPECT_GT(again->same_as_confidence.value_or(0), 0.7);
  EXPECT_THAT(again->decision.reasons.back(), HasSubstr(other->photo));
  for (const SurveyMarking& m : survey.markings) {
    EXPECT_FALSE(m.photo == "c.jpg" && m.same_as) << m.id << " is on another lot";
  }
  const auto counted = [&] {
    const Survey now = load_survey(folder / "survey");
    return std::count_if(now.markings.begin(), now.markings.end(), [](const SurveyMarking& m) { return !repeats(m); });
  };
  const auto before = counted();
  std::string text = read_file(folder / "survey/survey.json");
  const std::size_t at = text.find("\"person\": null", text.find("\"id\": \"" + again->id + "\""));
  text.replace(at, std::string("\"person\": null").size(), "\"person\": {\"same_as\": \"" + again->id + "\"}");
  write_file(folder / "survey/survey.json", text);
  EXPECT_EQ(counted(), before + 1);
  ASSERT_EQ(lotwear(folder, {"assess", folder / "photos", "-o", folder / "survey"}).exit_code, 0);
  EXPECT_EQ(counted(), before + 1) << "a person's word is kept";
}

TEST(Walk, OwnRatesFromTheFirstCopyToTheCheckedFile) {
  const test::ScratchFolder folder;
  const std::string file = folder / "mine.json";
  const test::Ran fresh = lotwear(folder, {"rates", "new", file, "--name", "Harbour crew"});
  ASSERT_EQ(fresh.exit_code, 0) << fresh.err;
  EXPECT_EQ(lotwear(folder, {"rates", "check", file}).exit_code, 0);
  EXPECT_EQ(lotwear(folder, {"rates", "new", file}).exit_code, 1) << "never over a file that is there";
  std::string text = read_file(file);
  text.replace(text.find("\"350.00 USD\""), 12, "\"-350.00 USD\"");
  write_file(file, text);
  const test::Ran wrong = lotwear(folder, {"rates", "check", file});
  EXPECT_EQ(wrong.exit_code, 1);
  EXPECT_TRUE(std::regex_search(wrong.out, std::regex("mine.json: line [0-9]+, column [0-9]+: job.minimum")))
      << wrong.out;
  EXPECT_THAT(wrong.err, HasSubstr("1 mistake"));
}

TEST(Walk, TheSameRunTwiceWritesTheSameBytes) {
  const test::ScratchFolder folder;
  const std::string photo = folder.put("a.jpg", test::rendered_photo(80'001));
  ASSERT_EQ(lotwear(folder, {"assess", photo, "-o", folder / "survey"}).exit_code, 0);
  const std::string survey = read_file(folder / "survey/survey.json");
  const std::string plan = read_file(folder / "survey/evidence/M001-plan.jpg");
  ASSERT_EQ(lotwear(folder, {"assess", photo, "-o", folder / "survey"}).exit_code, 0);
  EXPECT_EQ(read_file(folder / "survey/survey.json"), survey);
  EXPECT_EQ(read_file(folder / "survey/evidence/M001-plan.jpg"), plan);
}

TEST(Walk, TheScaleSheetComesAsPdfAndAsPicture) {
  const test::ScratchFolder folder;
  ASSERT_EQ(lotwear(folder, {"scale-sheet", "-o", folder / "sheet.pdf", "--paper", "both"}).exit_code, 0);
  EXPECT_EQ(read_file(folder / "sheet.pdf").substr(0, 5), "%PDF-");
  ASSERT_EQ(lotwear(folder, {"scale-sheet", "-o", folder / "sheet.png", "--png", "--dpi", "100"}).exit_code, 0);
  EXPECT_EQ(read_file(folder / "sheet.png").substr(1, 3), "PNG");
}

}  // namespace
}  // namespace lotwear
