#include "rendering/true_shares.hpp"

#include <algorithm>
#include <vector>

#include "rendering/photograph.hpp"
#include "rendering/wear.hpp"

namespace lotwear::rendering {

cv::Mat true_shares(ScenePlan plan) {
  for (MarkingPlan& m : plan.markings) {
    m.coat.albedo = m.is_field ? Rgb{0, 0, 0} : Rgb{1, 0, 0};
    m.wear.faded = 0;
    m.label_flakes = !m.is_field;
    if (m.older) m.older->albedo = {0, 1, 0};
  }
  const Camera camera(plan.camera);
  const double far_mm = std::min(plan.ground_ends_mm, 12500.0);
  std::vector<Strip> strips = strips_for(camera, far_mm);
  std::vector<WornMarking> worn;
  for (std::size_t i = 0; i < plan.markings.size(); ++i) {
    const bool field = plan.markings[i].is_field && i + 1 < plan.markings.size();
    worn.emplace_back(plan.markings[i], plan.pavement, field ? plan.markings[i + 1].rings : std::vector<GroundRing>{});
  }
  for (Strip& strip : strips) {
    lay_pavement(strip, plan.pavement);
    strip.albedo.setTo(cv::Scalar::all(0));
    Counts counts;
    for (const WornMarking& w : worn)
      w.paint(strip, counts);
  }
  const cv::Mat seen = look(camera, strips, plan, far_mm, {});
  cv::Mat rgb;
  seen.convertTo(rgb, CV_8U, 250);
  return rgb;
}

}  // namespace lotwear::rendering
