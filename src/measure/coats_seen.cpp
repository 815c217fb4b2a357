#include "measure/coats_seen.hpp"

#include <algorithm>
#include <functional>
#include <limits>
#include <opencv2/imgproc.hpp>
#include <utility>
#include <vector>

#include "measure/coat_step.hpp"

namespace lotwear {
namespace {

// Chances as trained, where three in ten of all markings lie over an older coat: more than on most lots. With these
// limits 69 of 109 such coats of the top coat's colour are told on 720 rendered scenes, and 10 of 891 that are not
// there.
constexpr double kLayered = 0.75;       // from here on an older coat is told where its step shows
constexpr double kNearlySure = 0.98;    // from here on where nothing speaks against it
constexpr double kBeyondDoubt = 0.995;  // from here on without
constexpr double kOpen = 0.5;           // from here on it is an open question where it does not show
constexpr double kNone = 0.05;          // below it there is one coat alone
constexpr double kLeastShare = 0.03;    // of the marking; less was seen where there was none
constexpr double kShareError = 0.06;    // standard deviation of the share on markings not learned from
constexpr float kInside = 0.1F;         // 2 mm within the outline, as the figures of the training are taken
// mm a photo pixel. In coarser photos, which the network has learned from too, it still takes real paint's texture for
// wear: asked in all of them, 28 real markings are off by 8.0 points for 6.2 (hand-drawn outlines).
constexpr double kCoarsest = 3;
// Where no older coat is told, what the reader takes for one still counts as top coat: all of it as long as it is not
// sure, half of it where it is. Real photos of a single worn coat make it sure, too.
constexpr double kSure = 0.985, kHalf = 0.5;

/// On the plan's own pixels; NaN beyond the view.
cv::Mat on_plan(const cv::Mat& seen, const cv::Rect& at, const PlanView& plan) {
  cv::Mat part, whole(plan.light.size(), CV_32F, cv::Scalar(std::numeric_limits<float>::quiet_NaN()));
  cv::resize(seen, part, at.size(), 0, 0, cv::INTER_LINEAR);
  part.copyTo(whole(at));
  return whole;
}

}  // namespace

std::optional<CoatsSeen> see_coats(const CoatReader& reader, const PlanView& plan, double core_mm) {
  if (plan.photo_px_mm > kCoarsest) return std::nullopt;
  CoatsSeen seen{coat_view(plan, core_mm), {}};
  if (seen.view.input.empty()) return std::nullopt;
  seen.answer = reader.look(seen.view.input);
  return seen;
}

CoatReading older_coat_of(const CoatsSeen& seen, const PlanView& plan, const cv::Mat& bare, double core_mm) {
  const auto& [view, answer] = seen;
  if (answer.layered < kOpen) return {};
  // The chances of single spots are low; their sum is right. As many spots as it says are taken, the likeliest first.
  std::vector<float> likeliest;
  double sum = 0;
  for (int r = 0; r < view.input.rows; ++r) {
    for (int c = 0; c < view.input.cols; ++c) {
      if (view.input.at<cv::Vec4f>(r, c)[3] <= kInside) continue;
      likeliest.push_back(answer.chances.at<cv::Vec3f>(r, c)[2]);
      sum += static_cast<double>(likeliest.back());
    }
  }
  if (likeliest.empty()) return {};
  const auto all = static_cast<double>(likeliest.size());
  const auto at = likeliest.begin() + static_cast<std::ptrdiff_t>(std::min(sum, all - 1));
  std::nth_element(likeliest.begin(), at, likeliest.end(), std::greater<>());
  const float least = *at;
  OlderCoat older;
  older.share = sum / all;
  const CoatStep step = step_between(view.input, answer.chances, least);
  const bool told = answer.layered >= kBeyondDoubt || (answer.layered >= kNearlySure && step.leans()) ||
                    (answer.layered >= kLayered && step.shows());
  if (!told || older.share < kLeastShare) return {std::nullopt, older.share};
  older.error = kShareError;
  older.map = cv::Mat::zeros(plan.light.size(), CV_32F);
  cv::Mat chance, likely;
  cv::extractChannel(answer.chances, chance, 2);
  cv::resize(chance, likely, view.at.size(), 0, 0, cv::INTER_LINEAR);
  double got = 0;
  cv::Vec3d ratio(0, 0, 0);
  for (int r = 0; r < likely.rows; ++r) {
    for (int c = 0; c < likely.cols; ++c) {
      const int row = r + view.at.y, col = c + view.at.x;
      if (plan.ours.at<unsigned char>(row, col) == 0 || likely.at<float>(r, c) < least) continue;
      older.map.at<float>(row, col) = 1;
      if (plan.inside_mm.at<float>(row, col) <= static_cast<float>(core_mm)) continue;
      got += 1;
      const cv::Vec3f light = plan.light.at<cv::Vec3f>(row, col), under = bare.at<cv::Vec3f>(row, col);
      for (int k = 0; k < 3; ++k)
        ratio[k] += static_cast<double>(light[k] / std::max(1e-4F, under[k]));
    }
  }
  for (int k = 0; k < 3; ++k)
    older.over_pavement[static_cast<std::size_t>(k)] = ratio[k] / std::max(1.0, got);
  return {older, 0};
}

bool speaks_against_coats(const CoatsSeen& seen) { return seen.answer.layered < kNone; }

cv::Mat top_coat_of(const CoatsSeen& seen, const PlanView& plan, bool older_told) {
  const auto& [view, answer] = seen;
  const double sure = std::clamp((answer.layered - kLayered) / (kSure - kLayered), 0.0, 1.0);
  const auto as_top = static_cast<float>(older_told ? 1.0 : 1 - kHalf * sure);
  cv::Mat top(answer.chances.size(), CV_32F);
  for (int r = 0; r < top.rows; ++r) {
    for (int c = 0; c < top.cols; ++c) {
      const cv::Vec3f chance = answer.chances.at<cv::Vec3f>(r, c);
      top.at<float>(r, c) = chance[1] + as_top * chance[2];
    }
  }
  return on_plan(top, view.at, plan);
}

cv::Mat flakes_of(const CoatsSeen& seen, const PlanView& plan) {
  return on_plan(seen.answer.flaked, seen.view.at, plan);
}

}  // namespace lotwear
