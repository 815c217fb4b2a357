#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/sample_survey.hpp"
#include "survey/overlap.hpp"
#include "survey/survey.hpp"

namespace lotwear {
namespace {

using samples::small_lot;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

std::vector<ImageRing> box(double left, double top, double right, double bottom) {
  return {{{left, top}, {right, top}, {right, bottom}, {left, bottom}}};
}

TEST(SharedShare, OfBoxesIsTheirOverlapOverBoth) {
  EXPECT_DOUBLE_EQ(shared_share(box(0, 0, 10, 10), box(0, 0, 10, 10)), 1);
  EXPECT_NEAR(shared_share(box(0, 0, 10, 10), box(5, 0, 15, 10)), 1.0 / 3, 1e-12);
  EXPECT_NEAR(shared_share(box(0, 0, 10, 10), box(0, 5, 10, 15)), 1.0 / 3, 1e-2);
  EXPECT_DOUBLE_EQ(shared_share(box(0, 0, 10, 10), box(20, 0, 30, 10)), 0);
  EXPECT_DOUBLE_EQ(shared_share({}, box(0, 0, 10, 10)), 0);
}

TEST(SharedShare, IsTheSameBothWaysAndForEitherDirectionOfARing) {
  const std::vector<ImageRing> slanted = {{{0, 0}, {1000, 300}, {1000, 312}, {0, 12}}};
  std::vector<ImageRing> moved = {{{0, 4}, {1000, 304}, {1000, 316}, {0, 16}}};
  const double shared = shared_share(slanted, moved);
  EXPECT_NEAR(shared, 0.5, 0.01);  // 12 high, moved by 4: 8 of 16
  EXPECT_DOUBLE_EQ(shared_share(moved, slanted), shared);
  std::reverse(moved[0].begin(), moved[0].end());
  EXPECT_DOUBLE_EQ(shared_share(slanted, moved), shared);
}

TEST(SharedShare, PiecesOfOneMarkingCountAsOneFigure) {
  std::vector<ImageRing> bars = box(0, 0, 10, 10);
  bars.push_back(box(20, 0, 30, 10)[0]);
  EXPECT_NEAR(shared_share(bars, box(0, 0, 30, 10)), 2.0 / 3, 1e-12);
  bars.push_back(box(0, 0, 10, 10)[0]);  // the same piece twice adds nothing
  EXPECT_NEAR(shared_share(bars, box(0, 0, 30, 10)), 2.0 / 3, 1e-12);
}

TEST(KeepPerson, NothingChangesWhenNothingChanged) {
  Survey before = small_lot();
  before.markings[0].person_json = R"({"confirmed": true})";
  EXPECT_EQ(survey_text(keep_person(small_lot(), before)), survey_text(before));
}

TEST(KeepPerson, FollowsTheMarkingNotTheNumber) {
  Survey before = small_lot();
  before.markings[0].person_json = R"({"note": "left stall"})";
  Survey fresh = small_lot();
  std::swap(fresh.markings[0], fresh.markings[1]);
  fresh.markings[0].id = "M001";
  fresh.markings[1].id = "M002";
  for (auto& ring : fresh.markings[1].outline) {
    for (auto& point : ring)
      point.x += 8;  // 40 wide, found 8 px off
  }
  fresh.markings[0].same_as = "M002";
  const Survey kept = keep_person(fresh, before);
  EXPECT_EQ(kept.markings[0].id, "M002");
  EXPECT_EQ(kept.markings[1].id, "M001");
  EXPECT_EQ(kept.markings[1].person_json, R"({"note": "left stall"})");
  EXPECT_EQ(kept.markings[0].person_json, "null");
  EXPECT_EQ(kept.markings[0].same_as, "M001");
}

TEST(KeepPerson, KnowsAPhotoByItsContentNotItsName) {
  Survey before = small_lot();
  before.markings[0].person_json = R"({"coats": 3})";
  Survey fresh = small_lot();
  fresh.photos[0].file = "renamed.jpg";
  for (auto& marking : fresh.markings)
    marking.photo = "renamed.jpg";
  EXPECT_EQ(keep_person(fresh, before).markings[0].person_json, R"({"coats": 3})");
  fresh.photos[0].sha256 = samples::hash_of('b');
  EXPECT_EQ(keep_person(fresh, before).markings[0].person_json, "null");
}

TEST(KeepPerson, AMarkingThatWasNotFoundAgainStaysWithALineInProblems) {
  Survey before = small_lot();
  before.markings[1].person_json = R"({"action": "repaint"})";
  Survey fresh = small_lot();
  fresh.markings.erase(fresh.markings.begin() + 1);
  const Survey kept = keep_person(fresh, before);
  ASSERT_EQ(kept.markings.size(), 3u);
  EXPECT_EQ(kept.markings[2].id, "M002");
  EXPECT_EQ(kept.markings[2].person_json, R"({"action": "repaint"})");
  ASSERT_EQ(kept.problems.size(), 2u);
  EXPECT_EQ(kept.problems[1].file, "IMG_0001.jpg");
  EXPECT_THAT(kept.problems[1].what, HasSubstr("M002 was not found again"));
  EXPECT_EQ(survey_text(keep_person(fresh, kept)), survey_text(kept)) << "a third run must settle";
}

TEST(KeepPerson, AnUntouchedMarkingThatVanishedIsGone) {
  Survey fresh = small_lot();
  fresh.markings.pop_back();
  const Survey kept = keep_person(fresh, small_lot());
  EXPECT_EQ(kept.markings.size(), 2u);
  EXPECT_EQ(kept.problems.size(), 1u);
}

TEST(KeepPerson, APhotoThatWasNotAssessedThisTimeKeepsItsEntry) {
  Survey before = small_lot();
  before.markings[0].person_json = R"({"confirmed": true})";
  Survey fresh;
  fresh.photos = {samples::photo("IMG_0002.jpg", 'b')};
  const Survey kept = keep_person(fresh, before);
  ASSERT_EQ(kept.photos.size(), 2u);
  EXPECT_EQ(kept.photos[1].sha256, samples::hash_of('a'));
  ASSERT_EQ(kept.markings.size(), 1u);
  EXPECT_THAT(kept.problems.at(0).what, HasSubstr("not assessed this time"));
}

TEST(KeepPerson, ANewMarkingNeverTakesAnOldId) {
  Survey before = small_lot();
  Survey fresh = small_lot();
  fresh.markings = {samples::stall_line("M001", 2000), samples::stall_line("M002", 100),
                    samples::stall_line("M003", 3000)};
  const Survey kept = keep_person(fresh, before);
  EXPECT_EQ(kept.markings[0].id, "M004");
  EXPECT_EQ(kept.markings[1].id, "M001");
  EXPECT_EQ(kept.markings[2].id, "M005");
}

TEST(KeepPerson, WhatAPersonDrewOrStruckOutStaysWithoutAWord) {
  Survey before = small_lot();
  before.revision = 7;
  before.markings.push_back(samples::stall_line("M004", 2500));
  before.markings[3].person_json = R"({"added": true, "outline": [[[2500, 200], [2540, 200], [2540, 1200]]]})";
  before.markings[1].person_json = R"({"false_alarm": true})";
  Survey fresh = small_lot();
  fresh.markings.erase(fresh.markings.begin() + 1);
  const Survey kept = keep_person(fresh, before);
  EXPECT_EQ(kept.revision, 7);
  ASSERT_EQ(kept.markings.size(), 4u);
  EXPECT_EQ(kept.markings[2].id, "M002");
  EXPECT_EQ(kept.markings[3].person_json, before.markings[3].person_json);
  EXPECT_EQ(kept.problems.size(), fresh.problems.size()) << "nobody expects to find them";
}

TEST(KeepPerson, AMarkingFoundWhereAPersonDrewItIsThatOne) {
  Survey before = small_lot();
  before.markings[0].person_json = R"({"outline": [[[2000, 200], [2040, 200], [2040, 1200], [2000, 1200]]]})";
  Survey fresh = small_lot();
  fresh.markings[0] = samples::stall_line("M001", 2005);
  const Survey kept = keep_person(fresh, before);
  EXPECT_EQ(kept.markings.size(), 3u);
  EXPECT_EQ(kept.markings[0].person_json, before.markings[0].person_json);
}

TEST(KeepPerson, WhatAPersonNamedAsTheSamePaintIsNotLost) {
  Survey before = small_lot();
  before.markings[0].person_json = R"({"same_as": "M002"})";
  Survey fresh = small_lot();
  fresh.markings.erase(fresh.markings.begin() + 1);
  const Survey kept = keep_person(fresh, before);
  ASSERT_EQ(kept.markings.size(), 3u);
  EXPECT_EQ(kept.markings[2].id, "M002");
}

TEST(KeepPerson, KeepsTheSite) {
  Survey fresh = small_lot();
  fresh.site = {};
  EXPECT_EQ(keep_person(fresh, small_lot()).site.name, "Harbour Row, north lot");
}

}  // namespace
}  // namespace lotwear
