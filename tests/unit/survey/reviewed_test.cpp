// Which value holds after a person spoke: theirs, with what was measured kept beside it.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/sample_survey.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

SurveyMarking redrawn() {
  SurveyMarking marking = samples::stall_line("M001");
  Condition again = samples::peeling_arrow("M001").condition;
  again.size->area_m2 = 0.5;
  marking.person_json = R"({"outline": [[[1, 2], [30, 4], [5, 60]]], "measured": )" + condition_text(again) +
                        R"(, "evidence": {"photo": "evidence/M001-r3-photo.jpg", "plan": null, "loss": null}})";
  return marking;
}

TEST(Reviewed, ADrawnOutlineBringsItsOwnMeasurementSizeAndPictures) {
  const SurveyMarking marking = redrawn();
  const Survey survey = samples::small_lot();
  EXPECT_NEAR(condition_of(marking).remaining.value.value, 0.632, 1e-9);
  EXPECT_NEAR(marking.condition.remaining.value.value, 0.70, 1e-9);
  EXPECT_EQ(outline_of(marking)[0].size(), 3U);
  EXPECT_EQ(marking.outline[0].size(), 4U);
  EXPECT_NEAR(size_of(marking, survey)->area_m2, 0.5, 1e-9);
  EXPECT_EQ(evidence_of(marking).photo, "evidence/M001-r3-photo.jpg");
  EXPECT_EQ(evidence_of(marking).plan, "");
  EXPECT_EQ(decision_of(marking, Policy{}).action, Action::grind_and_repaint);
  EXPECT_EQ(evidence_of(samples::stall_line("M002")).plan, "evidence/M002-plan.jpg");
}

TEST(Reviewed, ComesBackFromTheFileAsItWent) {
  SurveyMarking marking = redrawn();
  marking.person_json.insert(1, R"("added": true, "false_alarm": true, )");
  const SurveyMarking back = marking_from(marking_text(marking), "M001");
  EXPECT_EQ(marking_text(back), marking_text(marking));
  EXPECT_TRUE(is_false_alarm(back));
  EXPECT_EQ(back.person().added, true);
  EXPECT_FALSE(is_false_alarm(samples::stall_line("M002")));
}

TEST(Reviewed, TheCountOfChangesIsWrittenOnlyWhereThereIsOne) {
  Survey survey = samples::small_lot();
  EXPECT_EQ(survey_text(survey).find("revision"), std::string::npos);
  survey.revision = 3;
  EXPECT_THAT(survey_text(survey), ::testing::HasSubstr("\"revision\": 3"));
}

}  // namespace
}  // namespace lotwear
