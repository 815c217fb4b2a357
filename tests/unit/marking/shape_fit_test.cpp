// Drawings laid over maps: home-made proportions and a tilt that is off are found again.
#include "marking/shape_fit.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/map_agreement.hpp"
#include "marking/shape_slide.hpp"

namespace lotwear {
namespace {

constexpr double kMm = 12;  // of a map's pixel

std::vector<Shape> arrows() {
  std::vector<Shape> found;
  for (const Shape& s : load_shapes(LOTWEAR_MODELS)) {
    if (is_arrow(s.kind)) found.push_back(s);
  }
  return found;
}

/// A patch whose map shows the rings, soft as the finder's.
Patch patch_of(const std::vector<PatchRing>& rings, cv::Size size) {
  Patch patch;
  patch.frame.mm_per_pixel = kMm, patch.frame.width = size.width, patch.frame.height = size.height;
  constexpr int kFine = 8;
  std::vector<std::vector<cv::Point>> drawn;
  for (const PatchRing& ring : rings) {
    std::vector<cv::Point> one;
    for (const PatchPoint& p : ring)
      one.emplace_back(static_cast<int>(std::lround(p.x * kFine)), static_cast<int>(std::lround(p.y * kFine)));
    drawn.push_back(one);
  }
  cv::Mat fine(size * kFine, CV_8U, cv::Scalar(0)), soft;
  cv::fillPoly(fine, drawn, cv::Scalar(255));
  cv::resize(fine, soft, size, 0, 0, cv::INTER_AREA);
  soft.convertTo(patch.footprint, CV_32F, 1 / 255.0);
  patch.inside = cv::Mat(size, CV_8U, cv::Scalar(255));
  return patch;
}

ShapePose pose_of(const Shape& shape, double turn_deg) {
  ShapePose pose;
  pose.middle = {90, 100};
  pose.turn = turn_deg * 3.14159265358979 / 180;
  pose.length_mm = 130 * kMm;
  pose.values = usual_values(shape);
  return pose;
}

std::size_t named(const std::vector<Shape>& shapes, const std::string& name) {
  for (std::size_t i = 0; i < shapes.size(); ++i) {
    if (shapes[i].name == name) return i;
  }
  ADD_FAILURE() << "no shape " << name;
  return 0;
}

void set(ShapePose& pose, const Shape& shape, const std::string& proportion, double value) {
  for (std::size_t i = 0; i < shape.proportions.size(); ++i) {
    if (shape.proportions[i].name == proportion) pose.values[i] = value;
  }
}

/// A broad shaft with a small swept head and a thin arm with a long one: from the trade's drawing every single step
/// towards it makes the overlap worse.
ShapePose home_made(const Shape& shape) {
  ShapePose pose = pose_of(shape, 8);
  for (const auto& [name, value] : std::initializer_list<std::pair<const char*, double>>{{"shaft-width", 0.15},
                                                                                         {"head-length", 0.2},
                                                                                         {"head-width", 0.2},
                                                                                         {"notch", 0.06},
                                                                                         {"arm-leaves", 0.55},
                                                                                         {"arm-width", 0.04},
                                                                                         {"arm-length", 0.3},
                                                                                         {"arm-head-length", 0.28},
                                                                                         {"arm-head-width", 0.18}})
    set(pose, shape, name, value);
  return pose;
}

double overlap(const FittedShape& fitted, const Patch& patch) {
  std::vector<PatchRing> rings;
  for (const GroundRing& ring : fitted.rings) {
    PatchRing laid;
    for (const GroundPoint& p : ring)
      laid.push_back(patch.frame.patch(p));
    rings.push_back(laid);
  }
  const Patch drawn = patch_of(rings, patch.footprint.size());
  return cv::sum(cv::min(drawn.footprint, patch.footprint))[0] / cv::sum(cv::max(drawn.footprint, patch.footprint))[0];
}

TEST(ShapeFit, FindsHomeMadeProportions) {
  const std::vector<Shape> shapes = arrows();
  const std::size_t index = named(shapes, "arrow-straight-right-square");
  const Patch patch = patch_of(rings_in_patch(home_made(shapes[index]), shapes[index], kMm), {180, 200});
  const auto fitted = fit_shape(patch, shapes, 24);
  ASSERT_TRUE(fitted);
  EXPECT_EQ(fitted->kind, Kind::arrow_straight_right);
  EXPECT_GT(overlap(*fitted, patch),
            0.88);  // cells that an outline runs through count as paint: a thin arm comes out half a cell thinner
}

TEST(ShapeFit, FindsAnArrowOnGroundThatIsAThirdTooLong) {
  const std::vector<Shape> shapes = arrows();
  const std::size_t index = named(shapes, "arrow-left-curved");
  std::vector<PatchRing> rings = rings_in_patch(pose_of(shapes[index], 35), shapes[index], kMm);
  for (PatchRing& ring : rings) {
    for (PatchPoint& p : ring)
      p.y *= 1.33;
  }
  const Patch patch = patch_of(rings, {180, 270});
  const auto fitted = fit_shape(patch, shapes, 24);
  ASSERT_TRUE(fitted);
  EXPECT_EQ(fitted->kind, Kind::arrow_left);
  EXPECT_GT(overlap(*fitted, patch), 0.88);
}

TEST(ShapeSlide, MovesAllKnobsAtOnceToAWholeOutline) {
  const std::vector<Shape> shapes = arrows();
  const Shape& shape = shapes[named(shapes, "arrow-straight-right-square")];
  const ShapePose truth = home_made(shape);
  const Patch patch = patch_of(rings_in_patch(truth, shape, kMm), {180, 200});
  ShapePose start = pose_of(shape, 8);
  set(start, shape, "arm-length", 0.2);
  const ShapePose there = slid(start, shape, outline_of(patch.footprint, patch.inside), kMm, Knobs{2});
  MapAgreement agreement(patch.footprint, patch.inside);
  EXPECT_GT(agreement.of(rings_in_patch(there, shape, kMm)), agreement.of(rings_in_patch(start, shape, kMm)) + 0.1);
  EXPECT_GT(agreement.of(rings_in_patch(there, shape, kMm)), 0.9);
}

TEST(ShapeSlide, StaysWhereThereIsNoPaint) {
  const std::vector<Shape> shapes = arrows();
  const ShapePose start = pose_of(shapes.front(), 0);
  const cv::Mat nothing(200, 180, CV_32F, cv::Scalar(0)), inside(200, 180, CV_8U, cv::Scalar(255));
  const ShapePose there = slid(start, shapes.front(), outline_of(nothing, inside), kMm, Knobs{2});
  EXPECT_TRUE(std::isfinite(there.length_mm));
  EXPECT_NEAR(there.length_mm, start.length_mm, 0.2 * start.length_mm);
}

}  // namespace
}  // namespace lotwear
