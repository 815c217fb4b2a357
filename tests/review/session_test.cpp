// The survey while a person works on it: every change at once on the disk, taken back and made again, never lost, never
// written over what another tab or command did.

#include "review/session.hpp"

#include <gmock/gmock.h>

#include <fstream>

#include "base/files.hpp"
#include "support/sample_survey.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using samples::small_lot;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

class Sessions : public ::testing::Test {
 protected:
  test::ScratchFolder folder;
  void SetUp() override { save_survey(small_lot(), folder.path()); }
  Session open() const { return Session({folder.path(), LOTWEAR_MODELS, {}}); }
  Survey stored() const { return load_survey(folder.path()); }
  static const SurveyMarking& find(const Survey& survey, const std::string& id) {
    return *std::find_if(survey.markings.begin(), survey.markings.end(), [&](const auto& m) { return m.id == id; });
  }
};

constexpr auto kDone = Outcome::Is::done;
constexpr auto kStale = Outcome::Is::stale;
constexpr auto kRefused = Outcome::Is::refused;

TEST_F(Sessions, WhatAPersonSaysIsOnTheDiskAtOnceBesideWhatWasMeasured) {
  Session session = open();
  const Outcome outcome =
      session.say(0, "M001", R"({"kind": "stop-line", "adhesion": 1, "note": "came off in sheets"})");
  ASSERT_EQ(outcome.is, kDone) << outcome.what;
  EXPECT_THAT(outcome.ids, ElementsAre("M001"));
  const Survey after = stored();
  EXPECT_EQ(after.revision, 1);
  const SurveyMarking& marking = find(after, "M001");
  EXPECT_EQ(kind_of(marking), Kind::stop_line);
  EXPECT_EQ(marking.kind, Kind::line) << "what was measured stays";
  EXPECT_EQ(marking.person().note, "came off in sheets");
  EXPECT_EQ(marking.decision.action, Action::grind_and_repaint) << "class 1 is a grind by the policy, at once";
  EXPECT_THAT(marking.decision.reasons, ::testing::Contains(HasSubstr("tape pull")));
}

TEST_F(Sessions, UndoAndRedoGoBackAndForthAndOutliveTheProgram) {
  const std::string before = survey_text(stored());
  {
    Session session = open();
    ASSERT_EQ(session.say(0, "M001", R"({"action": "repaint"})").is, kDone);
    ASSERT_EQ(session.say(1, "M002", R"({"confirmed": true})").is, kDone);
    EXPECT_EQ(session.undo(2).is, kDone);
    EXPECT_EQ(find(stored(), "M002").person_json, "null");
  }
  Session session = open();
  EXPECT_EQ(session.view().redo, "M002: confirmed");
  EXPECT_EQ(session.redo(3).is, kDone);
  EXPECT_EQ(find(stored(), "M002").person().confirmed, true);
  EXPECT_EQ(session.undo(4).is, kDone);
  EXPECT_EQ(session.undo(5).is, kDone);
  EXPECT_EQ(session.undo(6).is, kRefused);
  Survey after = stored();
  EXPECT_EQ(after.revision, 6);
  after.revision = 0;
  EXPECT_EQ(survey_text(after), before) << "all taken back: the same bytes but for the count of changes";
  EXPECT_EQ(session.redo(6).is, kDone);
  EXPECT_EQ(session.say(7, "M003", R"({"coats": 2})").is, kDone);
  EXPECT_EQ(session.redo(8).is, kRefused) << "a new change ends what could be made again";
}

TEST_F(Sessions, TwoTabsCannotOverwriteEachOther) {
  Session session = open();
  ASSERT_EQ(session.say(0, "M001", R"({"action": "repaint"})").is, kDone);
  const Outcome late = session.say(0, "M001", R"({"action": "no-action"})");
  EXPECT_EQ(late.is, kStale);
  EXPECT_THAT(late.what, HasSubstr("another tab"));
  EXPECT_EQ(session.draw(0, "M001", std::nullopt).is, kStale);
  EXPECT_EQ(session.undo(0).is, kStale);
  EXPECT_EQ(find(stored(), "M001").person().action, Action::repaint);
}

TEST_F(Sessions, TwoReviewsOfOneSurveyAreRefused) {
  const Session session = open();
  EXPECT_THROW(open(), Failure);
}

TEST_F(Sessions, WhatAnotherCommandWroteMeanwhileIsReadAndNotWrittenOver) {
  Session session = open();
  ASSERT_EQ(session.say(0, "M001", R"({"note": "seen"})").is, kDone);
  Survey other = stored();
  other.site.name = "Another name";
  other.markings.push_back(samples::stall_line("M009", 2500));
  save_survey(other, folder.path());
  EXPECT_EQ(session.say(1, "M001", R"({"coats": 2})").is, kStale);
  EXPECT_EQ(session.view().survey.site.name, "Another name");
  ASSERT_EQ(session.say(1, "M009", R"({"confirmed": true})").is, kDone);
  EXPECT_EQ(stored().site.name, "Another name");
  EXPECT_EQ(find(stored(), "M001").person().note, "seen");
}

TEST_F(Sessions, AKillBetweenJournalAndSurveyLosesNothing) {
  const std::string before = read_file(folder / "survey.json");
  {
    Session session = open();
    ASSERT_EQ(session.say(0, "M001", R"({"action": "repaint"})").is, kDone);
    ASSERT_EQ(session.add(1, 0, Kind::stop_line, Colour::white, {{{10, 10}, {400, 10}, {400, 60}, {10, 60}}}).is,
              kDone);
  }
  write_file(folder / "survey.json", before);  // the survey as it was before its journal's two lines
  EXPECT_EQ(find(stored(), "M001").person().action, Action::repaint) << "every command reads the journal";
  Session session = open();
  EXPECT_EQ(session.revision(), 2);
  EXPECT_THAT(read_file(folder / "survey.json"), HasSubstr("\"revision\": 2")) << "put right at the start";
  EXPECT_EQ(session.view().survey.markings.size(), 4U);
  EXPECT_EQ(session.undo(2).is, kDone);
  EXPECT_EQ(stored().markings.size(), 3U);
}

TEST_F(Sessions, AJournalTornAtAnyByteIsTheStateBeforeOrAfterNeverBetween) {
  const std::string survey = read_file(folder / "survey.json");
  {
    Session session = open();
    ASSERT_EQ(session.say(0, "M001", R"({"note": "first"})").is, kDone);
    ASSERT_EQ(session.say(1, "M002", R"({"note": "second"})").is, kDone);
  }
  const std::string journal = read_file(folder / kJournalName);
  const std::size_t first = journal.find('\n') + 1;
  for (std::size_t length = 0; length <= journal.size(); ++length) {
    write_file(folder / "survey.json", survey);
    write_file(folder / kJournalName, journal.substr(0, length));
    const long expected = length < first ? 0 : length < journal.size() ? 1 : 2;
    ASSERT_EQ(stored().revision, expected) << length;
    if (length % 37 != 0) continue;  // a session costs more than a look
    Session session = open();
    ASSERT_EQ(session.say(expected, "M003", R"({"coats": 3})").is, kDone);
    ASSERT_EQ(read_journal(folder.path()).size(), static_cast<std::size_t>(expected) + 1)
        << "the torn end is cut off first";
  }
}

TEST_F(Sessions, ADamagedJournalIsNamedWithItsEntry) {
  std::ofstream(folder / kJournalName) << "{\"revision\": 1, \"is\": \"sideways\", \"what\": \"x\", \"changes\": []}\n";
  try {
    open();
    FAIL() << "it was read";
  } catch (const Failure& failure) {
    EXPECT_THAT(failure.what(), HasSubstr("entry 1 is damaged"));
    EXPECT_THAT(failure.what(), HasSubstr("move the file away"));
  }
}

TEST_F(Sessions, AJournalLineWhoseMarkingIsGoneIsAProblemNotAnEnd) {
  {
    Session session = open();
    ASSERT_EQ(session.say(0, "M002", R"({"note": "gone soon"})").is, kDone);
  }
  Survey without = small_lot();
  without.markings.erase(without.markings.begin() + 1);
  save_survey(without, folder.path());
  EXPECT_THAT(stored().problems.back().what, HasSubstr("M002 is no longer in the survey"));
}

TEST_F(Sessions, TheSamePaintTwiceCountsOnceAndNeverInACircle) {
  Session session = open();
  ASSERT_EQ(session.say(0, "M001", R"({"same_as": "M002"})").is, kDone);
  EXPECT_EQ(repeats(find(stored(), "M001")), "M002");
  EXPECT_EQ(session.say(1, "M002", R"({"same_as": "M001"})").is, kRefused);
  EXPECT_EQ(session.say(1, "M003", R"({"same_as": "M077"})").is, kRefused);
}

TEST_F(Sessions, APersonSaysThatAMarkingIsOneOfItsOwn) {
  Survey linked = small_lot();
  linked.markings[0].same_as = linked.markings[1].id;
  save_survey(linked, folder.path());
  Session session = open();
  ASSERT_EQ(repeats(find(stored(), "M001")), "M002");
  ASSERT_EQ(session.say(0, "M001", R"({"same_as": "M001"})").is, kDone);
  EXPECT_EQ(repeats(find(stored(), "M001")), std::nullopt);
  ASSERT_EQ(session.say(1, "M001", R"({"same_as": null})").is, kDone);
  EXPECT_EQ(repeats(find(stored(), "M001")), "M002");
}

TEST_F(Sessions, WhatNobodyCanSayIsRefusedAndChangesNothing) {
  Session session = open();
  for (const char* fields :
       {R"({"outline": [[[0, 0]]]})", R"({"evidence": {"photo": "/etc/passwd"}})", R"({"kind": "zebra"})",
        R"({"adhesion": 9})", R"({"coats": -1})", R"({"confirmed": "yes"})", "{}", "[]", "nonsense"}) {
    EXPECT_THROW(session.say(0, "M001", fields), Failure) << fields;
  }
  EXPECT_EQ(session.say(0, "M099", R"({"note": "x"})").is, kRefused);
  EXPECT_EQ(session.revision(), 0);
  EXPECT_FALSE(fs::exists(folder / kJournalName));
}

TEST_F(Sessions, OutlinesFromOutsideAreLookedAtFirst) {
  Session session = open();
  EXPECT_EQ(session.draw(0, "M001", std::vector<ImageRing>{}).is, kRefused);
  EXPECT_EQ(session.draw(0, "M001", std::vector<ImageRing>{{{0, 0}, {9, 9}}}).is, kRefused);
  EXPECT_EQ(session.draw(0, "M001", std::vector<ImageRing>{{{0, 0}, {1, 0}, {1, 1}}}).is, kRefused);
  EXPECT_EQ(session.draw(0, "M001", std::vector<ImageRing>{{{0, 0}, {1e6, 0}, {1e6, 1e6}}}).is, kRefused);
  EXPECT_EQ(session.add(0, 7, Kind::line, Colour::white, {{{0, 0}, {99, 0}, {99, 99}}}).is, kRefused);
  EXPECT_EQ(session.revision(), 0);
}

TEST_F(Sessions, AMarkingThatCannotBeMeasuredIsKeptAndSaysWhy) {
  Session session = open();  // its photo is not there
  ASSERT_EQ(session.add(0, 0, Kind::arrow_left, Colour::yellow, {{{900, 900}, {990, 900}, {990, 990}}}).is, kDone);
  const Survey after = stored();
  const SurveyMarking& added = after.markings.back();
  EXPECT_EQ(added.id, "M004");
  EXPECT_EQ(added.person().added, true);
  EXPECT_EQ(kind_of(added), Kind::arrow_left);
  EXPECT_EQ(colour_of(added), Colour::yellow);
  EXPECT_EQ(condition_of(added).remaining.low.value, 0);
  EXPECT_EQ(condition_of(added).remaining.high.value, 1);
  EXPECT_TRUE(added.decision.needs_review);
  EXPECT_THAT(added.decision.reasons, ::testing::Contains(HasSubstr("could not be measured")));
  EXPECT_THAT(condition_of(added).size, ::testing::Eq(std::nullopt));
}

TEST_F(Sessions, PicturesOfChangesThatNeverCameToBeAreSwept) {
  folder.put("evidence/M001-r5-plan.jpg", "left behind by a kill");
  folder.put("evidence/M001-plan.jpg", "of assess");
  folder.put("evidence/holiday.jpg", "not ours");
  open();
  EXPECT_FALSE(fs::exists(folder / "evidence/M001-r5-plan.jpg"));
  EXPECT_TRUE(fs::exists(folder / "evidence/M001-plan.jpg"));
  EXPECT_TRUE(fs::exists(folder / "evidence/holiday.jpg"));
}

TEST_F(Sessions, UnknownFieldsOfAPersonStayAsTheyAre) {
  Survey survey = small_lot();
  survey.markings[0].person_json = R"({"from_a_later_version": [1, 2], "note": "old"})";
  save_survey(survey, folder.path());
  Session session = open();
  ASSERT_EQ(session.say(0, "M001", R"({"note": null, "coats": 2})").is, kDone);
  EXPECT_THAT(find(stored(), "M001").person_json, HasSubstr("from_a_later_version"));
  EXPECT_EQ(find(stored(), "M001").person().note, std::nullopt);
}

TEST(SetAside, TheJournalOfASurveyThatIsGoneIsNeverPlayedIntoAnother) {
  const test::ScratchFolder folder;
  folder.put("review-journal.jsonl", "one\n");
  folder.put("review-journal-1.jsonl", "an earlier one\n");
  set_journal_aside(folder.path());
  EXPECT_FALSE(fs::exists(folder / "review-journal.jsonl"));
  EXPECT_EQ(read_file(folder / "review-journal-1.jsonl"), "an earlier one\n");
  EXPECT_EQ(read_file(folder / "review-journal-2.jsonl"), "one\n");
}

}  // namespace
}  // namespace lotwear
