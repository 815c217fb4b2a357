// Where the share map departs from the truth: the renderer draws the same scene once more with paint red, older coats
// green and everything else black, unlit; seen from the same camera that is the true share of every photo pixel.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "cases.hpp"
#include "measure/plan_view.hpp"
#include "measure/separation.hpp"
#include "rendering/true_shares.hpp"

namespace lotwear {
namespace {

cv::Mat true_shares_of(const std::string& tier_word, std::uint64_t seed, double megapixels) {
  using namespace rendering;
  return true_shares(
      draw_scene(*from_word<Tier>(kTierWords, tier_word), seed, megapixels, load_shapes(LOTWEAR_SOURCE_MODELS)));
}

}  // namespace

void explain(const std::filesystem::path& truth_file, double edge_mm, const std::string& only,
             const std::string& keep) {
  const std::vector<Case> cases = scene_cases(truth_file, edge_mm);
  if (cases.empty()) return;
  const std::string name = truth_file.stem().stem().string();
  const auto dash = name.find('-');
  Photo shares = cases.front().photo;
  const double megapixels = 1e-6 * shares.rgb.cols * shares.rgb.rows;
  // Drawing takes longer than measuring: kept pictures are read back.
  const std::string kept = keep.empty() ? "" : keep + "/" + name + ".png";
  cv::Mat bgr = kept.empty() ? cv::Mat() : cv::imread(kept);
  if (bgr.empty()) {
    shares.rgb = true_shares_of(name.substr(0, dash), static_cast<std::uint64_t>(std::atoll(name.c_str() + dash + 1)),
                             std::round(megapixels));
    cv::cvtColor(shares.rgb, bgr, cv::COLOR_RGB2BGR);
    if (!kept.empty()) cv::imwrite(kept, bgr);
  } else {
    shares.rgb.release();  // its pixels are also the photo's
    cv::cvtColor(bgr, shares.rgb, cv::COLOR_BGR2RGB);
  }
  if (shares.rgb.size() != cases.front().photo.rgb.size()) {
    std::printf("%s: the scene drawn now is of another size\n", name.c_str());
    return;
  }
  for (std::size_t i = 0; i < 256; ++i)
    shares.space.linear[i] = static_cast<float>(i) / 250;
  shares.space.to_srgb = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  for (const Case& one : cases) {
    if (!only.empty() && one.name.find(only) == std::string::npos) continue;
    const Result<PlanView> plan = look_down(one.photo, {}, one.ground, one.footprints, one.which);
    const Result<PlanView> truth = look_down(shares, {}, one.ground, one.footprints, one.which);
    if (!plan || !truth || plan->light.size() != truth->light.size()) continue;
    const double core = 1.3 * edge_mm + (0.7 + std::clamp(one.photo.quality.blur_px, 0.6, 2.5)) * plan->photo_px_mm;
    const std::optional<Separation> paint = separate(*plan, core, one.photo.quality.blur_px);
    if (!paint) continue;
    cv::Mat known;
    const double sigma = std::max(0.3, one.photo.quality.blur_px * plan->photo_px_mm / plan->mm_per_pixel);
    cv::GaussianBlur(truth->light, known, {}, sigma, sigma, cv::BORDER_REPLICATE);
    constexpr std::array<float, 8> kUpTo{0.02F, 0.15F, 0.35F, 0.65F, 0.85F, 0.95F, 0.985F, 9};
    std::array<double, 8> n{}, sum{};
    double all = 0, true_sum = 0, found_sum = 0, older_n = 0, older_sum = 0, older_share = 0, beside = 0, beside_n = 0;
    for (int r = 0; r < known.rows; ++r) {
      for (int c = 0; c < known.cols; ++c) {
        if (plan->beside.at<unsigned char>(r, c) != 0)
          beside += static_cast<double>(paint->share.at<float>(r, c)), beside_n += 1;
        if (plan->ours.at<unsigned char>(r, c) == 0 || plan->inside_mm.at<float>(r, c) <= static_cast<float>(core))
          continue;
        const cv::Vec3f t = known.at<cv::Vec3f>(r, c);
        const auto x = static_cast<double>(std::clamp(paint->share.at<float>(r, c), -0.6F, 1.6F));
        all += 1, true_sum += static_cast<double>(t[0]), found_sum += x, older_share += static_cast<double>(t[1]);
        if (t[1] > 0.5F) older_n += 1, older_sum += x;
        if (t[1] > 0.02F) continue;
        const auto k = static_cast<std::size_t>(std::upper_bound(kUpTo.begin(), kUpTo.end() - 1, t[0]) - kUpTo.begin());
        n[k] += 1, sum[k] += x;
      }
    }
    std::printf(
        "%-48s true %5.1f in core %5.1f found %5.1f older %4.1f px %.2f blur %.2f beside %5.1f spread %.2f/%.2f "
        "broken %d ratio %.2f gain ",
        one.name.c_str(), 100 * one.value, 100 * true_sum / all, 100 * found_sum / all, 100 * older_share / all,
        plan->photo_px_mm, one.photo.quality.blur_px, 100 * beside / std::max(1.0, beside_n), paint->bare_spread,
        paint->paint_spread, paint->look.broken ? 1 : 0, paint->over_pavement[1]);
    std::printf("%.2f |", cv::mean(paint->paint_gain, plan->ours)[0]);
    for (std::size_t k = 0; k < n.size(); ++k)
      std::printf(" %3.0f:%4.0f", 100 * n[k] / all, n[k] > 20 ? 100 * sum[k] / n[k] : -99.0);
    if (older_n > 20) std::printf(" | older at %.0f", 100 * older_sum / older_n);
    std::printf("\n");
    std::fflush(stdout);
  }
}

}  // namespace lotwear
