// What a person draws is measured by the same stages as everything else, on the same ground.

#include <gmock/gmock.h>

#include <sstream>

#include "app/assess.hpp"
#include "base/files.hpp"
#include "review/session.hpp"
#include "review/template.hpp"
#include "support/rendered_photo.hpp"
#include "support/scratch_folder.hpp"
#include "survey/overlap.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

class DrawnByHand : public ::testing::Test {
 protected:
  // one assess for all of them: it is most of the time
  static void SetUpTestSuite() {
    ::setenv("LOTWEAR_MODELS", LOTWEAR_MODELS, 1);
    home_ = new fs::path(fs::temp_directory_path() / ("lotwear-drawn-" + std::to_string(::getpid())));
    fs::remove_all(*home_);
    fs::create_directories(*home_ / "photos");
    write_file(*home_ / "photos/a.jpg", test::rendered_photo(80'000));
    write_file(*home_ / "photos/b.jpg", test::rendered_photo(80'001));
    again();
  }
  static void TearDownTestSuite() {
    fs::remove_all(*home_);
    delete home_;
  }
  static void again() {
    AssessOptions options;
    options.photos = {*home_ / "photos"};
    options.survey = *home_ / "survey";
    options.quiet = true;
    std::ostringstream said;
    assess(options, said);
  }
  void SetUp() override {
    fs::remove_all(mine());
    fs::copy(*home_ / "survey", mine(), fs::copy_options::recursive);
  }
  static fs::path mine() { return *home_ / "mine"; }  // beside the photos, as photo-folders.json has it
  static Session open() { return Session({mine(), LOTWEAR_MODELS, {}}); }
  static const SurveyMarking& find(const Survey& survey, const std::string& id) {
    return *std::find_if(survey.markings.begin(), survey.markings.end(), [&](const auto& m) { return m.id == id; });
  }
  static Ground ground_of(const SurveyPhoto& photo) {
    Ground ground;
    ground.ground_from_image = GroundFromImage(photo.plane->image_to_ground);
    ground.image_from_ground = ground.ground_from_image.inverse();
    return ground;
  }

 private:
  inline static fs::path* home_ = nullptr;
};

TEST_F(DrawnByHand, TheSameOutlineGivesTheSameNumbers) {
  Session session = open();
  const Survey before = session.view().survey;
  ASSERT_GE(before.markings.size(), 2U);
  for (const SurveyMarking& marking : before.markings) {
    ASSERT_EQ(session.draw(session.revision(), marking.id, marking.outline).is, Outcome::Is::done);
    const Survey after = load_survey(mine());
    const Condition found = marking.condition, again = condition_of(find(after, marking.id));
    // how exactly an edge is known is not in the survey: a drawn one is believed to a pixel, and its rim is looked at
    // less
    EXPECT_NEAR(percent(again.remaining.value), percent(found.remaining.value), 4) << marking.id;
    EXPECT_EQ(again.colour, found.colour) << marking.id;
    EXPECT_EQ(again.surface, found.surface) << marking.id;
    ASSERT_EQ(again.size.has_value(), found.size.has_value());
    if (found.size) {
      EXPECT_NEAR(again.size->area_m2, found.size->area_m2, 0.01 * found.size->area_m2);
    }
  }
}

TEST_F(DrawnByHand, ALargerOutlineHoldsMorePavementAndLessPaint) {
  Session session = open();
  const Survey before = session.view().survey;
  const auto bar = std::find_if(before.markings.begin(), before.markings.end(),
                                [](const SurveyMarking& m) { return m.condition.size && m.outline.size() == 1; });
  ASSERT_NE(bar, before.markings.end());
  std::vector<ImageRing> larger = bar->outline;
  const ImagePoint middle = centroid(larger[0]);
  for (ImagePoint& p : larger[0])
    p = middle + (p - middle) * 1.2;
  ASSERT_EQ(session.draw(0, bar->id, larger).is, Outcome::Is::done);
  const SurveyMarking after = find(load_survey(mine()), bar->id);
  EXPECT_NEAR(size_of(after, before)->area_m2 / bar->condition.size->area_m2, 1.44, 0.12)
      << "perspective bends it a little";
  EXPECT_LT(condition_of(after).remaining.value.value, bar->condition.remaining.value.value)
      << "there is bare pavement in it";
  EXPECT_EQ(after.condition.remaining.value.value, bar->condition.remaining.value.value) << "what was measured stays";
  for (const std::string& name : {evidence_of(after).photo, evidence_of(after).plan, evidence_of(after).loss})
    EXPECT_GT(fs::file_size(mine() / name), 500U) << name;
  ASSERT_EQ(session.draw(1, bar->id, std::nullopt).is, Outcome::Is::done);
  EXPECT_EQ(find(load_survey(mine()), bar->id).person_json, "null");
}

TEST_F(DrawnByHand, TheOrderOfEditsDoesNotShowInTheNumbers) {
  const Survey before = load_survey(mine());
  std::vector<ImageRing> moved = before.markings[0].outline;
  for (ImagePoint& p : moved[0])
    p.x += 3;
  std::string first, second;
  {
    Session session = open();
    ASSERT_EQ(session.draw(0, before.markings[0].id, moved).is, Outcome::Is::done);
    first = condition_text(condition_of(session.view().survey.markings[0]));
  }
  SetUp();
  {
    Session session = open();
    ASSERT_EQ(session.say(0, before.markings[0].id, R"({"note": "something else first"})").is, Outcome::Is::done);
    ASSERT_EQ(session.draw(1, before.markings[0].id, before.markings[0].outline).is, Outcome::Is::done);
    ASSERT_EQ(session.draw(2, before.markings[0].id, moved).is, Outcome::Is::done);
    second = condition_text(condition_of(session.view().survey.markings[0]));
  }
  EXPECT_EQ(first, second);
}

TEST_F(DrawnByHand, AMissedMarkingIsDrawnAndSurvivesTheNextAssess) {
  std::string missed;
  {
    Session session = open();
    const SurveyMarking one = session.view().survey.markings[0];
    // as if it had been missed: struck out, and drawn anew a little larger
    ASSERT_EQ(session.say(0, one.id, R"({"false_alarm": true})").is, Outcome::Is::done);
    const Outcome added = session.add(1, 0, Kind::other, Colour::other, {{{60, 60}, {360, 60}, {360, 200}, {60, 200}}});
    ASSERT_EQ(added.is, Outcome::Is::done) << added.what;
    missed = added.ids.at(0);
    ASSERT_EQ(session.say(2, missed, R"({"same_as": "M002", "confirmed": true})").is, Outcome::Is::done);
  }
  const Survey before = load_survey(mine());
  AssessOptions options;
  const fs::path fresh = mine() / "new.jpg";  // taken since: the same lot, another file
  write_file(fresh, test::with_comment(read_file(mine() / "../photos/b.jpg"), "another visit"));
  options.photos = {mine() / "../photos", fresh};
  options.survey = mine();
  options.quiet = true;
  std::ostringstream said;
  assess(options, said);
  const Survey after = load_survey(mine());
  EXPECT_EQ(after.revision, 3);
  EXPECT_EQ(after.photos.size(), before.photos.size() + 1);
  EXPECT_GT(after.markings.size(), before.markings.size());
  EXPECT_TRUE(is_false_alarm(find(after, before.markings[0].id)));
  EXPECT_EQ(find(after, missed).person_json, find(before, missed).person_json);
  EXPECT_EQ(repeats(find(after, missed)), "M002");
  EXPECT_THAT(after.problems, IsEmpty()) << "a drawn marking is not expected to be found";
  for (const std::string& name : {evidence_of(find(after, missed)).photo, evidence_of(find(after, missed)).plan}) {
    EXPECT_TRUE(name.empty() || fs::exists(mine() / name)) << name;
  }
  Session session = open();
  EXPECT_EQ(session.undo(3).is, Outcome::Is::done) << "and can still be taken back";
}

TEST_F(DrawnByHand, ATemplateLiesWhereTheTwoClicksAre) {
  const Survey survey = load_survey(mine());
  const SurveyPhoto& photo = survey.photos[0];
  const Ground ground = ground_of(photo);
  const ImagePoint from{0.4 * photo.width, 0.8 * photo.height}, to{0.55 * photo.width, 0.6 * photo.height};
  const std::vector<Shape> shapes = load_shapes(LOTWEAR_MODELS);
  const auto named = [&](const std::string& name) {
    return *std::find_if(shapes.begin(), shapes.end(), [&](const Shape& s) { return s.name == name; });
  };
  const auto nearest = [](const std::vector<ImageRing>& rings, ImagePoint p) {
    double least = 1e9;
    for (const ImageRing& ring : rings) {
      for (std::size_t i = 0; i < ring.size(); ++i)
        least = std::min(least, point_to_segment(p, ring[i], ring[(i + 1) % ring.size()]));
    }
    return least;
  };
  const auto arrow = lay_template(named("arrow-straight"), ground, from, to);
  ASSERT_TRUE(arrow);
  double tip = 1e9;
  for (const ImagePoint& p : (*arrow)[0])
    tip = std::min(tip, length(p - to));
  EXPECT_LT(tip, 0.5) << "its tip is a corner";
  EXPECT_LT(nearest(*arrow, from), 0.5) << "its foot is an edge";

  const double span = length(ground.ground_from_image(to) - ground.ground_from_image(from));
  const auto stripe = lay_template(named("line"), ground, from, to);
  EXPECT_NEAR(area(ground.ground_from_image((*stripe)[0])) / span, 0.0185 * 5486.4, 0.5)
      << "4 inches wide, however long";

  const auto crossing = lay_template(named("crosswalk-bars"), ground, from, to);
  ASSERT_GE(crossing->size(), 2U);
  EXPECT_LT(length(centroid(ground.ground_from_image(crossing->front())) - ground.ground_from_image(from)), 1.0);
  EXPECT_LT(length(centroid(ground.ground_from_image(crossing->back())) - ground.ground_from_image(to)), 1.0);
  for (const Shape& shape : shapes)
    EXPECT_TRUE(lay_template(shape, ground, from, to)) << shape.name;
  EXPECT_FALSE(lay_template(named("line"), ground, from, from));
  EXPECT_FALSE(lay_template(named("line"), ground, from, {from.x, -20.0 * photo.height})) << "above the horizon";
}

TEST_F(DrawnByHand, ALaidTemplateIsMeasured) {
  Session session = open();
  const SurveyPhoto photo = session.view().survey.photos[0];
  const Outcome laid = session.add(0, 0, "stop-line", Colour::white, {0.2 * photo.width, 0.85 * photo.height},
                                   {0.6 * photo.width, 0.85 * photo.height});
  ASSERT_EQ(laid.is, Outcome::Is::done) << laid.what;
  const SurveyMarking added = find(load_survey(mine()), laid.ids.at(0));
  EXPECT_EQ(kind_of(added), Kind::stop_line);
  ASSERT_TRUE(condition_of(added).size);
  EXPECT_GT(condition_of(added).size->area_m2, 0.1);
  EXPECT_EQ(session.add(1, 0, "no-such-shape", Colour::white, {1, 1}, {9, 9}).is, Outcome::Is::refused);
}

TEST_F(DrawnByHand, AnotherPhotoUnderTheSameNameIsNotMeasuredIn) {
  const Survey survey = load_survey(mine());
  const test::ScratchFolder elsewhere;
  fs::copy_file(mine() / "../photos/b.jpg", elsewhere / "a.jpg");
  Session session({mine(), LOTWEAR_MODELS, {elsewhere.path()}});
  const SurveyMarking& one =
      *std::find_if(survey.markings.begin(), survey.markings.end(), [](const auto& m) { return m.photo == "a.jpg"; });
  ASSERT_EQ(session.draw(0, one.id, one.outline).is, Outcome::Is::done);
  EXPECT_THAT(find(load_survey(mine()), one.id).decision.reasons, ::testing::Contains(HasSubstr("another photo")));
}

}  // namespace
}  // namespace lotwear
