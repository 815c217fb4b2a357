// What photos of one walk say to each other: scale, parts, views that disagree.
#include "app/walk_findings.hpp"

#include <gmock/gmock.h>

namespace lotwear {
namespace {

using ::testing::HasSubstr;

/// One marking of 2 m by 0.5 m on a plane known to `error` of its lengths.
PhotoFindings findings(const std::string& file, const std::string& source, double error) {
  PhotoFindings one;
  one.photo.file = one.photo.sha256 = file;
  one.photo.plane = SurveyPhoto::Plane{source, {1, 0, 0, 0, 1, 0, 0, 0, 1}, 100 * error};
  SurveyMarking marking;
  marking.photo = file;
  marking.kind = Kind::line;
  marking.condition.size = Size{1.0, 2.0, 0.5, 5.0, Fraction{error}};
  marking.condition.remaining = {Fraction{0.7}, Fraction{0.75}, Fraction{0.8}};
  one.markings.push_back(marking);
  return one;
}

TEST(HoldByOverlap, TheSheetOfOnePhotoScalesTheOther) {
  std::vector<PhotoFindings> all{findings("a.jpg", "scale-sheet", 0.005), findings("b.jpg", "focal-length", 0.17)};
  all[1].height_assumed = CameraHeight{7.3, 0.17};
  hold_by_overlap(all, {{0, 1, 1.1}});  // what is 1 m long in a is 1.1 m in b: b was held lower than believed
  const Size& size = *all[1].markings[0].condition.size;
  EXPECT_NEAR(size.length_m, 2 / 1.1, 1e-9);
  EXPECT_NEAR(size.area_m2, 1 / 1.21, 1e-9);
  EXPECT_NEAR(size.error.value, std::hypot(0.005, 0.015), 1e-6);
  EXPECT_NEAR(all[1].photo.plane->image_to_ground[0], 1 / 1.1, 1e-9);
  EXPECT_NEAR(all[1].photo.plane->image_to_ground[8], 1, 1e-9);
  EXPECT_EQ(all[1].photo.plane->source, "scale-sheet");
  EXPECT_FALSE(all[1].height_assumed) << "the walk's height must not move it again";
  EXPECT_EQ(all[0].markings[0].condition.size->length_m, 2);
}

TEST(HoldByOverlap, EitherOrderOfThePair) {
  std::vector<PhotoFindings> all{findings("a.jpg", "focal-length", 0.17), findings("b.jpg", "scale-sheet", 0.005)};
  hold_by_overlap(all, {{0, 1, 1.25}});
  EXPECT_NEAR(all[0].markings[0].condition.size->length_m, 2.5, 1e-9);
  EXPECT_EQ(all[1].markings[0].condition.size->length_m, 2);
}

TEST(HoldByOverlap, OneThatKnowsHardlyBetterChangesNothing) {
  std::vector<PhotoFindings> all{findings("a.jpg", "stripe-width", 0.10), findings("b.jpg", "focal-length", 0.17)};
  hold_by_overlap(all, {{0, 1, 1.1}});
  EXPECT_EQ(all[1].markings[0].condition.size->length_m, 2);
  EXPECT_EQ(all[1].photo.plane->source, "focal-length");
}

TEST(JoinParts, SizeIsOfAllParts) {
  std::vector<PhotoFindings> all{findings("a.jpg", "scale-sheet", 0.005), findings("b.jpg", "scale-sheet", 0.005)};
  join_parts(all, {{{0, 0}, {{1, 0}}, 1.5, 1.5}});
  const SurveyMarking& marking = all[0].markings[0];
  EXPECT_NEAR(marking.condition.size->area_m2, 1.5, 1e-9);
  EXPECT_NEAR(marking.condition.size->length_m, 3, 1e-9);
  EXPECT_NEAR(marking.condition.size->perimeter_m, 7, 1e-9) << "two edges of a metre more";
  EXPECT_THAT(marking.decision.reasons.back(), HasSubstr("b.jpg"));
}

TEST(CompareViews, ViewsThatDisagreeAskForAPerson) {
  const SurveyMarking seen = findings("a.jpg", "scale-sheet", 0.005).markings[0];
  SurveyMarking counted = seen, other = seen;
  other.photo = "b.jpg";
  compare_views(counted, other);
  EXPECT_FALSE(counted.decision.needs_review) << "the same said twice";
  other.kind = Kind::stop_line;
  compare_views(counted, other);
  EXPECT_TRUE(counted.decision.needs_review);
  EXPECT_THAT(counted.decision.reasons.back(), HasSubstr("stop-line"));
  counted = seen, other = seen;
  other.condition.remaining = {Fraction{0.85}, Fraction{0.9}, Fraction{0.95}};
  compare_views(counted, other);
  EXPECT_TRUE(counted.decision.needs_review);
  EXPECT_THAT(counted.decision.reasons.back(), HasSubstr("90 % left"));
}

TEST(SeenPhotos, CopiesUnderAnotherNameShowNothing) {
  std::vector<PhotoFindings> all{findings("a.jpg", "scale-sheet", 0.005), findings("b.jpg", "scale-sheet", 0.005)};
  for (PhotoFindings& one : all) {
    one.photo.sha256 = "the same bytes";
    one.seen.markings.emplace_back();
  }
  const std::vector<SeenPhoto> seen = seen_photos(all);
  EXPECT_EQ(seen[0].markings.size(), 1U);
  EXPECT_TRUE(seen[1].markings.empty());
}

}  // namespace
}  // namespace lotwear
