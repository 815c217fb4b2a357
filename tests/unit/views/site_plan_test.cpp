#include "views/site_plan.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "made_up_survey.hpp"

namespace lotwear {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

struct Box {
  double x, y, w, h;
};

std::vector<Box> labels_of(const Drawing& drawing) {
  std::vector<Box> boxes;
  for (const Drawn& one : drawing.items) {
    if (one.is == Drawn::Is::rect && !one.link.empty()) boxes.push_back({one.at[0], one.at[1], one.at[2], one.at[3]});
  }
  return boxes;
}

/// A photo for every place, a marking or more in each.
std::pair<Survey, std::vector<PlanMark>> lot(const std::vector<SurveyPhoto::Place>& places, int marks_each) {
  Survey survey;
  std::vector<PlanMark> marks;
  for (std::size_t i = 0; i < places.size(); ++i) {
    SurveyPhoto photo;
    photo.file = "IMG_" + std::to_string(i) + ".jpg";
    photo.position = places[i];
    survey.photos.push_back(photo);
    for (int k = 0; k < marks_each; ++k)
      marks.push_back({"M" + std::to_string(100 + marks.size()), photo.file, Action::repaint});
  }
  return {survey, marks};
}

// Radii of curvature of the WGS 84 ellipsoid (a = 6378137 m, 1/f = 298.257223563): the meridian's and the parallel's.
TEST(EastNorth, AgreesWithTheRadiiOfTheEllipsoid) {
  constexpr double a = 6378137, f = 1 / 298.257223563, e2 = f * (2 - f);
  for (const double lat : {-60.0, -33.0, 0.0, 12.4, 40.0, 68.0}) {
    const double phi = lat * std::numbers::pi / 180, s = std::sin(phi);
    const double meridian = a * (1 - e2) / std::pow(1 - e2 * s * s, 1.5), normal = a / std::sqrt(1 - e2 * s * s);
    const double degree = std::numbers::pi / 180, step = 1e-3;
    const EastNorth moved = east_north({lat, 10, {}}, {lat + step, 10 + step, {}});
    EXPECT_NEAR(moved.north_m, meridian * degree * step, 0.0005 * std::abs(moved.north_m)) << lat;
    EXPECT_NEAR(moved.east_m, normal * std::cos(phi) * degree * step, 0.0005 * std::abs(moved.east_m)) << lat;
  }
}

TEST(EastNorth, GoesTheShortWayAcrossTheDateLine) {
  EXPECT_NEAR(east_north({0, 179.9999, {}}, {0, -179.9999, {}}).east_m, 22.26, 0.1);
}

TEST(SitePlan, HasNorthUpAndEastToTheRight) {
  const auto [survey, marks] = lot({{40, -83, {}}, {40.0003, -83, {}}, {40, -82.9996, {}}}, 1);
  const auto plan = site_plan(survey, marks, Units::metric);
  ASSERT_TRUE(plan);
  std::vector<std::pair<double, double>> dots;
  for (const Drawn& one : plan->drawing.items) {
    if (one.is == Drawn::Is::circle && one.at[2] == 4.5) dots.emplace_back(one.at[0], one.at[1]);
  }
  ASSERT_EQ(dots.size(), 3U);
  EXPECT_LT(dots[1].second, dots[0].second) << "farther north is higher";
  EXPECT_GT(dots[2].first, dots[0].first) << "farther east is to the right";
  // 0.0003 degrees of latitude are 33.3 m; the scale bar must say so.
  const double per_m = (dots[0].second - dots[1].second) / east_north({40, -83, {}}, {40.0003, -83, {}}).north_m;
  const auto bar = std::find_if(plan->drawing.items.begin(), plan->drawing.items.end(),
                                [](const Drawn& one) { return one.is == Drawn::Is::text && one.text.ends_with(" m"); });
  ASSERT_NE(bar, plan->drawing.items.end());
  EXPECT_NEAR((bar->at[0] - 24) / per_m, std::stod(bar->text), 0.01);
}

TEST(SitePlan, LabelsNeverLieOnOneAnotherAndStayInside) {
  for (const int marks_each : {1, 3, 6}) {
    std::vector<SurveyPhoto::Place> places;
    for (int i = 0; i < 20; ++i)
      places.push_back({40 + 1e-5 * (i * 7 % 20), -83 + 1e-5 * (i * 11 % 20), 5.0});
    const auto [survey, marks] = lot(places, marks_each);
    const auto plan = site_plan(survey, marks, Units::us_customary);
    ASSERT_TRUE(plan);
    const std::vector<Box> boxes = labels_of(plan->drawing);
    ASSERT_EQ(boxes.size(), marks.size());
    for (std::size_t i = 0; i < boxes.size(); ++i) {
      EXPECT_GE(boxes[i].x, 0);
      EXPECT_LE(boxes[i].x + boxes[i].w, plan->drawing.width);
      EXPECT_GE(boxes[i].y, 0);
      EXPECT_LE(boxes[i].y + boxes[i].h, plan->drawing.height);
      for (std::size_t j = 0; j < i; ++j) {
        const bool apart = boxes[i].x >= boxes[j].x + boxes[j].w || boxes[j].x >= boxes[i].x + boxes[i].w ||
                           boxes[i].y >= boxes[j].y + boxes[j].h || boxes[j].y >= boxes[i].y + boxes[i].h;
        EXPECT_TRUE(apart) << marks_each << " each: " << i << " and " << j;
      }
    }
  }
}

TEST(SitePlan, NamesWhatHasNoPlace) {
  auto [survey, marks] = lot({{40, -83, {}}, {40.0003, -83, {}}}, 1);
  survey.photos[1].position.reset();
  const auto plan = site_plan(survey, marks, Units::metric);
  ASSERT_TRUE(plan);
  EXPECT_THAT(plan->without_position, ElementsAre("M101"));
  survey.photos[0].position.reset();
  EXPECT_FALSE(site_plan(survey, marks, Units::metric));
}

TEST(SitePlan, OnePlaceAloneIsAPlanToo) {
  const auto [survey, marks] = lot({{40, -83, 5.0}}, 2);
  const auto plan = site_plan(survey, marks, Units::us_customary);
  ASSERT_TRUE(plan);
  EXPECT_EQ(labels_of(plan->drawing).size(), 2U);
  EXPECT_THAT(plan->caption, HasSubstr("about 16\u00a0ft"));
}

}  // namespace
}  // namespace lotwear
