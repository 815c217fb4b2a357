// Outlines on a plan whose pixels, turn and origin are known.
#include "measure/plan_outline.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

namespace lotwear {
namespace {

/// 60 x 40 pixels of 2 mm, turned by `turn_rad`, its outer corner at the ground's (100, 50).
PlanView plan(double turn_rad = 0) {
  PlanView view;
  view.light = cv::Mat::zeros(40, 60, CV_32FC3);
  view.mm_per_pixel = 2;
  view.origin = {100, 50};
  view.turn_rad = turn_rad;
  return view;
}

/// A rectangle given in millimetres of the plan.
GroundRing rectangle(const PlanView& view, double left, double top, double right, double bottom) {
  GroundRing ring;
  for (const GroundPoint local : {GroundPoint{left, top}, {right, top}, {right, bottom}, {left, bottom}})
    ring.push_back(view.origin + turned(local, view.turn_rad));
  return ring;
}

Footprint footprint(const GroundRing& ring) {
  Footprint made;
  made.rings = {ring};
  return made;
}

TEST(PlanOutline, DistancesNearTheOutlineAreExactWhicheverWayThePlanIsTurned) {
  for (const double turn : {0.0, 0.7}) {
    const PlanView view = plan(turn);
    const cv::Mat depth = signed_distance({rectangle(view, 20.5, 20.5, 90.5, 60.5)}, view);
    ASSERT_EQ(depth.size(), view.light.size());
    EXPECT_NEAR(depth.at<float>(20, 10), 0.5, 1e-4) << turn;  // pixel centre at x = 21
    EXPECT_NEAR(depth.at<float>(20, 9), -1.5, 1e-4) << turn;
    EXPECT_NEAR(depth.at<float>(28, 30), 3.5, 1e-4) << turn;  // y = 57
    EXPECT_NEAR(depth.at<float>(20, 30), 19.5, 2.0) << turn;  // far from an edge: within a pixel
    EXPECT_LT(depth.at<float>(0, 0), -20) << turn;
  }
}

TEST(PlanOutline, AnOutlinePastThePlanFillsWhatLiesOnIt) {
  const PlanView view = plan();
  cv::Mat mask = cv::Mat::zeros(view.light.size(), CV_8U);
  fill_outline(mask, rectangle(view, -1e9, 20, 1e9, 40), view);
  EXPECT_EQ(cv::countNonZero(mask.rowRange(11, 19)), 8 * mask.cols);
  EXPECT_EQ(cv::countNonZero(mask.rowRange(0, 9)), 0);
  EXPECT_EQ(cv::countNonZero(mask.rowRange(21, 40)), 0);
}

TEST(PlanOutline, LongMarkingsLieAlongX) {
  const PlanView view = plan();
  EXPECT_NEAR(main_direction({rectangle(view, 0, 0, 100, 10)}), 0, 1e-9);
  EXPECT_NEAR(main_direction({rectangle(plan(0.5), 0, 0, 100, 10)}), 0.5, 1e-9);
  EXPECT_NEAR(main_direction({rectangle(plan(3), 0, 0, 100, 10)}), 3 - std::numbers::pi, 1e-9);
}

TEST(PlanOutline, ASymbolLiesOnItsFieldAndNotTheOtherWayRound) {
  const PlanView view = plan();
  const Footprint field = footprint(rectangle(view, 0, 0, 100, 100)),
                  symbol = footprint(rectangle(view, 30, 30, 60, 60)),
                  astride = footprint(rectangle(view, 90, 30, 120, 60));
  EXPECT_TRUE(lies_on(symbol, field));
  EXPECT_FALSE(lies_on(field, symbol));
  EXPECT_FALSE(lies_on(astride, field));
  EXPECT_FALSE(lies_on(Footprint{}, field));
}

TEST(PlanOutline, AStripesWidthInPixelsIsThatWhereThePhotoShowsMostOfIt) {
  Ground ground;
  ground.image_from_ground = ImageFromGround({0.5, 0, 0, 0, 0.5, 0, 0, 0, 1});
  const PlanView view = plan();
  EXPECT_NEAR(stripe_pixels(rectangle(view, 0, 0, 1000, 100), 0, 100, ground), 50, 1e-6);
}

}  // namespace
}  // namespace lotwear
