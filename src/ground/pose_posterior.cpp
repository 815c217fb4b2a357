#include "ground/pose_posterior.hpp"

#include <algorithm>
#include <cmath>

namespace lotwear {

namespace {

// Steepness of ground 30 m away, and how sharply it ends.
constexpr double kFlattestGround = 0.05, kFlatSpread = 0.02;
// Where a lot ends in the picture right across, it mostly ends some camera heights away and not at the photographer's
// feet (common practice, no source): nearer than this is unlikely, with this spread of the logarithm.
constexpr double kLotsEnd = 4.5, kLotsEndSpread = 0.6;
// Most that one point can weigh, natural logarithm: the finder may be wrong there.
constexpr double kHorizonDoubt = 2.5;

}  // namespace

PosePosterior::PosePosterior(const ViewPrior& prior, const PaintSeen& seen, const GroundTop& top, cv::Size photo)
    : prior_(prior), top_(top), photo_(photo), pose_prior_(prior) {
  if (!seen.sizes.empty() && !prior.measured) {
    sizes_.emplace(seen.sizes, prior.belief.view.log_height, std::sqrt(prior.belief.covariance(3, 3)));
  }
  for (const EdgeLine& e : seen.edges)
    strays_.push_back(seen_edge(e, photo));
  for (const DrawnObject& object : seen.objects) {
    if (!object.empty()) objects_.push_back(object_edges(object, photo));
  }
}

double PosePosterior::log_probability(const Pose& p, double blunt) const {
  const double before = pose_prior_.log_density(p);
  if (before < -1e8) return before;
  const double sum = before + horizon(p) + edges(p, blunt);
  return sizes_ ? sum + sizes_->of(view_of(p), photo_).log_likelihood : sum;
}

HeightBelief PosePosterior::height(const Pose& p) const {
  if (sizes_) return sizes_->of(view_of(p), photo_);
  const double middle = prior_.belief.view.log_height;
  return {0, middle, middle, prior_.belief.covariance(3, 3)};
}

double PosePosterior::horizon(const Pose& p) const {
  const View view = view_of(p);
  double sum = 0;
  std::vector<double> steep;
  for (const ImagePoint g : top_.points) {
    steep.push_back(steepness(view, photo_, g));
    const double missing = std::max(0.0, kFlattestGround - steep.back()) / kFlatSpread;
    sum -= std::min(kHorizonDoubt, missing * missing / 2);
  }
  if (!top_.is_end) return sum;
  std::nth_element(steep.begin(), steep.begin() + static_cast<std::ptrdiff_t>(steep.size() / 2), steep.end());
  const double away = 1 / std::max(kFlattestGround, steep[steep.size() / 2]);  // of the camera's height
  const double near = std::max(0.0, std::log(kLotsEnd / away) / kLotsEndSpread);
  return sum - std::min(kHorizonDoubt, near * near / 2);
}

double PosePosterior::edges(const Pose& p, double blunt) const {
  if (strays_.size() + objects_.size() < 1) return 0;
  const PoseGround ground(p);
  std::vector<Laid> laid;
  laid.reserve(strays_.size() + objects_.size());
  for (const SeenEdge& e : strays_)
    laid.push_back(ground.laid(e, blunt));
  double sum = 0;
  for (const std::vector<ObjectEdge>& object : objects_) {
    const auto [whole, log_likelihood] = laid_object(object, ground, blunt);
    laid.push_back(whole);
    sum += log_likelihood;
  }
  return sum + log_agreement(laid, blunt);
}

}  // namespace lotwear
