#include "overlap/same_ground.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/calib3d.hpp>
#include <opencv2/features2d.hpp>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {
namespace {

constexpr double kPlanMm = GroundLook::kPlanMm;
constexpr float kDistinct = 0.8F;  // likest spot over the second likest
constexpr double kAgreeMm = 25;    // lens distortion, stones' height, the plan's pixels
constexpr int kLeastAgreeing = 10;
constexpr double kLengths = 1.7;  // two photos without a sheet, one taken from higher and one from lower than believed
constexpr double kAngles = 1.5;   // longest over shortest stretch at one spot
// Rendered pairs of 24 lots: the same ground 0.84 and up, median 0.96; other ground 0.34 at most. A few spots may agree
// on something that goes along with the camera (a bonnet, a shoe: 0.78 with 16 spots), so they must be the more alike.
constexpr double kLeastLikeness = 0.55, kMoreForFew = 4.5;  // divided by how many agree
constexpr double kLeastComparedM2 = 0.3;
constexpr double kBarely = 0.7, kSurerByLikeness = 1.2, kSurest = 0.99;  // own choice: of 45 links none was wrong

std::vector<cv::DMatch> distinct_pairs(const cv::Mat& first, const cv::Mat& second) {
  cv::Mat a, b;
  first.convertTo(a, CV_32F), second.convertTo(b, CV_32F);
  const cv::BFMatcher matcher(cv::NORM_L2);
  std::vector<std::vector<cv::DMatch>> there, back;
  matcher.knnMatch(a, b, there, 2);
  matcher.knnMatch(b, a, back, 1);
  std::vector<cv::DMatch> pairs;
  for (const auto& two : there) {
    if (two.size() < 2 || two[0].distance > kDistinct * two[1].distance) continue;
    const auto& other = back[static_cast<std::size_t>(two[0].trainIdx)];
    if (!other.empty() && other[0].trainIdx == two[0].queryIdx) pairs.push_back(two[0]);
  }
  return pairs;
}

struct Stretch {
  double longest = 0, shortest = 0;  // shortest < 0: the map mirrors
};
Stretch stretch_at(const GroundFromGround& map, GroundPoint at) {
  constexpr double kStep = 10;
  const GroundPoint o = map(at), x = (map(at + GroundPoint{kStep, 0}) - o) * (1 / kStep),
                    y = (map(at + GroundPoint{0, kStep}) - o) * (1 / kStep);
  const double det = cross(x, y), half = (dot(x, x) + dot(y, y)) / 2;
  const double root = std::sqrt(std::max(0.0, half * half - det * det));
  const double least = std::sqrt(std::max(0.0, half - root));
  return {std::sqrt(half + root), det > 0 ? least : -least};
}

bool is_of_pavement(const GroundFromGround& map, GroundPoint at) {
  if (!(map.depth(at) > 0)) return false;
  const Stretch s = stretch_at(map, at);
  return s.shortest >= 1 / kLengths && s.longest <= kLengths && s.longest <= kAngles * s.shortest;
}

/// The map on which most pairs agree, if it is one of a pavement seen twice.
std::optional<SameGround> agreed_map(const std::vector<cv::Point2f>& from, const std::vector<cv::Point2f>& to) {
  constexpr int kTurns = 3000;
  std::vector<unsigned char> agrees;
  const cv::Mat h = cv::findHomography(from, to, cv::RANSAC, kAgreeMm, agrees, kTurns, 0.999);
  if (h.empty() || std::abs(cv::determinant(h)) < 1e-12) return std::nullopt;
  std::array<double, 9> m{};
  for (int i = 0; i < 9; ++i)
    m[static_cast<std::size_t>(i)] = h.at<double>(i / 3, i % 3);
  SameGround same{GroundFromGround(m), 0, 0, 0, 0};
  for (std::size_t i = 0; i < agrees.size(); ++i) {
    if (agrees[i] == 0) continue;
    ++same.agreeing;
    if (!is_of_pavement(same.second_from_first, {static_cast<double>(from[i].x), static_cast<double>(from[i].y)}))
      return std::nullopt;
  }
  if (same.agreeing < kLeastAgreeing) return std::nullopt;
  return same;
}

/// Light and shade taken out: what is left of the plan are stones, stains, wear.
cv::Mat detail_of(const cv::Mat& plan, const cv::Mat& own) {
  constexpr double kWide = 6, kFine = 1;  // pixels
  cv::Mat grey, weight, mean, total;
  plan.convertTo(grey, CV_32F);
  own.convertTo(weight, CV_32F, 1.0 / 255);
  cv::GaussianBlur(grey.mul(weight), mean, {}, kWide, kWide, cv::BORDER_CONSTANT);
  cv::GaussianBlur(weight, total, {}, kWide, kWide, cv::BORDER_CONSTANT);
  cv::Mat detail = (grey - mean / cv::max(total, 1e-3)).mul(weight);
  cv::GaussianBlur(detail, detail, {}, kFine, kFine, cv::BORDER_CONSTANT);
  return detail;
}

/// The second's plan as the first's would show it; pixels of the plans.
struct Moved {
  cv::Mat detail, own;
};
Moved moved(const GroundLook& first, const cv::Mat& own, const GroundLook& second, const SameGround& same) {
  cv::Mat x(own.size(), CV_32F, cv::Scalar(-1e6)), y(own.size(), CV_32F, cv::Scalar(-1e6));
  for (int r = 0; r < own.rows; ++r) {
    for (int c = 0; c < own.cols; ++c) {
      if (own.at<unsigned char>(r, c) == 0) continue;
      const GroundPoint at = first.origin + GroundPoint{c + 0.5, r + 0.5} * kPlanMm;
      if (!(same.second_from_first.depth(at) > 0)) continue;
      const GroundPoint p = (same.second_from_first(at) - second.origin) * (1 / kPlanMm);
      x.at<float>(r, c) = static_cast<float>(std::clamp(p.x - 0.5, -1e6, 1e6));
      y.at<float>(r, c) = static_cast<float>(std::clamp(p.y - 0.5, -1e6, 1e6));
    }
  }
  const cv::Mat second_own = second.own();
  Moved there;
  cv::remap(detail_of(second.plan(), second_own), there.detail, x, y, cv::INTER_LINEAR, cv::BORDER_CONSTANT);
  cv::remap(second_own, there.own, x, y, cv::INTER_NEAREST, cv::BORDER_CONSTANT);
  there.own &= own;
  return there;
}

/// Highest correlation of one square over small shifts: stones stand up, and the map is a few millimetres off.
double best_correlation(const cv::Mat& detail, const Moved& there, const cv::Rect& square) {
  constexpr int kShift = 2;
  const cv::Mat mask = there.own(square);
  cv::Mat x;
  detail(square).copyTo(x, mask);
  const double xx = x.dot(x);
  double best = -1;
  for (int dy = -kShift; dy <= kShift; ++dy) {
    for (int dx = -kShift; dx <= kShift; ++dx) {
      const cv::Rect shifted = square + cv::Point(dx, dy);
      if ((shifted & cv::Rect({}, detail.size())) != shifted) continue;
      cv::Mat y;
      there.detail(shifted).copyTo(y, mask);
      const double yy = y.dot(y);
      if (xx > 0 && yy > 0) best = std::max(best, x.dot(y) / std::sqrt(xx * yy));
    }
  }
  return best;
}

void compare(const GroundLook& first, const GroundLook& second, SameGround& same) {
  constexpr int kSquare = 20;
  constexpr double kShown = 0.6;  // of a square
  const cv::Mat own = first.own(), detail = detail_of(first.plan(), own);
  const Moved there = moved(first, own, second, same);
  std::vector<double> alike;
  for (int top = 0; top + kSquare <= detail.rows; top += kSquare) {
    for (int left = 0; left + kSquare <= detail.cols; left += kSquare) {
      const cv::Rect square(left, top, kSquare, kSquare);
      if (cv::countNonZero(there.own(square)) < kShown * square.area()) continue;
      alike.push_back(best_correlation(detail, there, square));
    }
  }
  if (alike.empty()) return;
  const auto middle = alike.begin() + static_cast<std::ptrdiff_t>(alike.size() / 2);
  std::nth_element(alike.begin(), middle, alike.end());
  same.likeness = *middle;
  same.compared_m2 = static_cast<double>(alike.size()) * std::pow(kSquare * kPlanMm * 1e-3, 2);
}

}  // namespace

std::optional<SameGround> same_ground(const GroundLook& first, const GroundLook& second) {
  if (first.at.size() < kLeastAgreeing || second.at.size() < kLeastAgreeing) return std::nullopt;
  std::vector<cv::Point2f> from, to;
  for (const cv::DMatch& pair : distinct_pairs(first.words, second.words)) {
    const GroundPoint a = first.at[static_cast<std::size_t>(pair.queryIdx)],
                      b = second.at[static_cast<std::size_t>(pair.trainIdx)];
    from.emplace_back(static_cast<float>(a.x), static_cast<float>(a.y));
    to.emplace_back(static_cast<float>(b.x), static_cast<float>(b.y));
  }
  if (from.size() < kLeastAgreeing) return std::nullopt;
  std::optional<SameGround> same = agreed_map(from, to);
  if (!same) return std::nullopt;
  compare(first, second, *same);
  const double over = same->likeness - kLeastLikeness - kMoreForFew / same->agreeing;
  if (over < 0 || same->compared_m2 < kLeastComparedM2) return std::nullopt;
  same->confidence = std::min(kSurest, kBarely + kSurerByLikeness * over);
  return same;
}

}  // namespace lotwear
