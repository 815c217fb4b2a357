#include "scoring/match.hpp"

#include <gtest/gtest.h>

#include "scoring/score.hpp"

namespace lotwear::scoring {
namespace {

ImageRing box(double left, double top, double right, double bottom) {
  return {{left, top}, {right, top}, {right, bottom}, {left, bottom}};
}
const cv::Size kPhoto(400, 300);

TEST(Cover, CountsPixelsInsideThePhotoOnly) {
  EXPECT_EQ(Cover({box(10, 10, 110, 60)}, kPhoto).area(), 100 * 50);
  EXPECT_EQ(Cover({box(350, 10, 500, 60)}, kPhoto).area(), 50 * 50);
  EXPECT_EQ(Cover({box(500, 10, 600, 60)}, kPhoto).area(), 0);
}

TEST(Overlap, IsOneWithItselfAndAThirdWhenHalfIsShared) {
  const Cover a({box(0, 0, 200, 100)}, kPhoto), b({box(100, 0, 300, 100)}, kPhoto);
  EXPECT_EQ(overlap(a, a), 1);
  EXPECT_DOUBLE_EQ(overlap(a, b), 1.0 / 3);
  EXPECT_EQ(overlap(a, b), overlap(b, a));
}

TEST(Overlap, PiecesOfOneMarkingCountTogether) {
  const Cover two({box(0, 0, 100, 100), box(200, 0, 300, 100)}, kPhoto), left({box(0, 0, 100, 100)}, kPhoto);
  EXPECT_DOUBLE_EQ(overlap(two, left), 0.5);
}

TEST(Match, TakesTheBetterPartnerAndEachOnce) {
  const std::vector<Cover> truths = {Cover({box(0, 0, 100, 100)}, kPhoto), Cover({box(200, 0, 300, 100)}, kPhoto)};
  const std::vector<Cover> markings = {Cover({box(0, 0, 100, 70)}, kPhoto), Cover({box(0, 0, 100, 98)}, kPhoto),
                                       Cover({box(200, 0, 300, 40)}, kPhoto)};
  const std::vector<Pair> pairs = match(truths, markings, 0.5);
  ASSERT_EQ(pairs.size(), 1u);
  EXPECT_EQ(pairs[0].truth, 0u);
  EXPECT_EQ(pairs[0].marking, 1u);
}

TEST(FalseAlarms, AreMarkingsThatLieOnNoTruth) {
  const std::vector<Cover> truths = {Cover({box(0, 0, 100, 100)}, kPhoto)};
  const std::vector<Cover> markings = {Cover({box(0, 0, 100, 100)}, kPhoto), Cover({box(60, 0, 160, 100)}, kPhoto),
                                       Cover({box(90, 0, 190, 100)}, kPhoto), Cover({box(200, 200, 250, 250)}, kPhoto)};
  const std::vector<std::size_t> alarms = false_alarms(truths, markings, match(truths, markings, 0.5), 0.3);
  EXPECT_EQ(alarms, (std::vector<std::size_t>{2, 3})) << "40 % on a truth is a bad outline, 10 % is a false alarm";
}

rendering::MarkingTruth truth_at(const std::string& id, const ImageRing& ring, double remaining) {
  rendering::MarkingTruth t;
  t.id = id;
  t.kind = Kind::line;
  t.colour = Colour::white;
  t.footprint = {ring};
  t.remaining = remaining;
  t.abraded = 1 - remaining;
  t.area_m2 = 1;
  t.share_in_frame = 1;
  t.action = rendering::expected_action(t);
  return t;
}
SurveyMarking marking_at(const std::string& id, const ImageRing& ring, double remaining) {
  SurveyMarking m;
  m.id = id;
  m.photo = "a.jpg";
  m.kind = Kind::line;
  m.outline = {ring};
  m.condition.colour = Colour::white;
  m.condition.remaining = {{remaining - 0.02}, {remaining}, {remaining + 0.02}};
  m.condition.loss.abraded = {1 - remaining};
  m.condition.size = Size{1.1, 1, 1, 4, {0.02}};
  m.decision.action = remaining < 0.85 ? Action::repaint : Action::no_action;
  return m;
}

/// A made-up scene: one truth measured well, one badly, one missed, one that is not counted, one alarm.
SceneScore made_up() {
  rendering::SceneTruth truth;
  truth.photo = "a.jpg";
  truth.width = kPhoto.width, truth.height = kPhoto.height;
  truth.markings = {truth_at("T1", box(0, 0, 100, 50), 0.60), truth_at("T2", box(0, 100, 100, 150), 0.90),
                    truth_at("T3", box(0, 200, 100, 250), 0.50), truth_at("T4", box(200, 0, 300, 50), 0.70)};
  truth.markings[3].count = false;
  Survey survey;
  survey.markings = {marking_at("M1", box(0, 0, 100, 50), 0.61), marking_at("M2", box(0, 100, 100, 148), 0.80),
                     marking_at("M3", box(200, 0, 300, 50), 0.2), marking_at("M4", box(200, 200, 300, 250), 0.2),
                     marking_at("M5", box(320, 200, 380, 250), 0.2)};
  survey.markings[4].same_as = "M4";
  survey.markings[2].photo = "a.jpg";
  return score_scene(truth, "a", survey);
}

TEST(ScoreScene, CountsWhatWasFoundMissedAndImagined) {
  const SceneScore scene = made_up();
  EXPECT_EQ(scene.alarm_ids, std::vector<std::string>{"M4"}) << "M3 lies on an uncounted truth, M5 repeats M4";
  EXPECT_EQ(scene.piece_ids, std::vector<std::string>{"M3"});
  const Totals t = total({scene});
  EXPECT_EQ(t.truths, 3);
  EXPECT_EQ(t.found, 2);
  EXPECT_NEAR(t.remaining.mean, (1 + 10) / 2.0, 1e-9);
  EXPECT_NEAR(t.remaining.worst, 10, 1e-9);
  EXPECT_NEAR(t.inside_interval, 0.5, 1e-9);
  EXPECT_NEAR(t.interval_width, 4, 1e-9);
  EXPECT_EQ(t.same_action, 1) << "90 % left is sound, 80 % is repaint";
  EXPECT_NEAR(t.without_sheet.said.mean, 10, 1e-9);
  EXPECT_EQ(t.with_sheet.said.n, 0);
}

TEST(ScoreScene, MarkingsOfOtherPhotosAreNoneOfItsBusiness) {
  rendering::SceneTruth truth;
  truth.photo = "b.jpg";
  truth.width = kPhoto.width, truth.height = kPhoto.height;
  Survey survey;
  survey.markings = {marking_at("M1", box(0, 0, 100, 50), 0.61)};
  EXPECT_EQ(score_scene(truth, "b", survey).alarm_ids.size(), 0u);
}

TEST(Totals, CountsWhatIsSeenTwiceAndWhatIsJoinedWrongly) {
  const auto seen = [](const std::string& scene, const std::string& lot,
                       const std::vector<std::pair<std::string, std::string>>& counted) {
    SceneScore score;
    score.scene = scene, score.tier = "clear", score.lot = lot;
    for (const auto& [truth, as] : counted) {
      score.markings.emplace_back();
      MarkingScore& m = score.markings.back();
      m.scene = scene, m.truth_id = truth, m.survey_id = m.counted_as = as, m.found = true;
    }
    return score;
  };
  // T1 is counted once; T2 twice; T3 of another lot is counted as T1 of this one
  const Totals t = total({seen("a", "lot 1", {{"T1", "M1"}, {"T2", "M2"}}),
                          seen("b", "lot 1", {{"T1", "M1"}, {"T2", "M4"}}), seen("c", "lot 2", {{"T3", "M1"}})});
  EXPECT_EQ(t.twice, 2);
  EXPECT_EQ(t.counted_once, 1);
  EXPECT_EQ(t.wrongly_joined, 1);
}

TEST(ResultText, ComesBackAsItWas) {
  const Scores result{"lotwear 1", 2.5, {made_up()}};
  const Scores back = result_from_text(result_text(result), "score.json");
  EXPECT_EQ(result_text(back), result_text(result));
  EXPECT_EQ(total_table(back), total_table(result));
}

TEST(Comparison, OfAResultWithItselfShowsNoChange) {
  const Scores result{"lotwear 1", 2.5, {made_up()}};
  EXPECT_NE(comparison(result, result).find("+0.00 points"), std::string::npos);
}

}  // namespace
}  // namespace lotwear::scoring
