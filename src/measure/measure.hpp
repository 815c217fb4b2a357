#pragma once
// Photo + Ground + Footprint -> Condition: what is left, with an honest interval, and how the rest went.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "base/condition.hpp"
#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"
#include "measure/coat_reader.hpp"
#include "measure/fading.hpp"
#include "measure/interval.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

/// What lies at each spot of the plan view; values of LossMap::what.
enum class Spot : unsigned char {
  outside = 0,
  paint = 1,
  abraded = 2,
  flaked = 3,
  older_coat = 4,
  cracked = 5,
  soiled = 6,
  unseen = 7
};

/// The marking seen from straight above, for evidence pictures.
struct LossMap {
  cv::Mat plan;      ///< CV_8UC3 RGB, sRGB-encoded, the photo seen from above
  cv::Mat fraction;  ///< CV_32F, share of paint at each spot, 0..1
  cv::Mat what;      ///< CV_8U, Spot
  double mm_per_pixel = 1;
  GroundPoint origin;   ///< ground point of the outer corner of the top-left pixel
  double turn_rad = 0;  ///< the plan's x axis is the ground's x axis turned by this angle
};

struct Measurement {
  Condition condition;      ///< fading as this marking alone shows it
  ErrorBudget budget;       ///< what the interval of what remains is made of
  PaintOverPavement paint;  ///< for fading as all markings of the photo show it together
  LossMap map;
};

/// `coats`: without it an older coat of the top coat's own colour counts as top coat, and no second opinion is heard on
/// what remains.
/// Problem: the marking cannot be measured, and why (too small in the photo, no pavement beside it, out of frame).
Result<Measurement> measure(const Photo& photo, const PaintMap& paint, const Ground& ground,
                            const std::vector<Footprint>& all, std::size_t which, const CoatReader* coats = nullptr);

/// The same on a plan view already drawn; of the photo only what was found out about it is asked, not its pixels.
Result<Measurement> measure_plan(const Photo& photo, const Ground& ground, const Footprint& footprint,
                                 const PlanView& plan, const CoatReader* coats = nullptr);

}  // namespace lotwear
