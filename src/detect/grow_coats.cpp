#include "detect/grow_coats.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {
namespace {

// Looked at on 180 rendered scenes: 19 of the 20 true pieces that grow by these limits grow over paint alone (0.97 and
// more of it).
constexpr int kFewestCells = 150, kFewestToSee = 60, kFewestGrown = 40;
constexpr float kPainted = 0.5F, kSure = 0.6F, kBare = 0.7F;
constexpr double kLeastContrast = 45;  // encoded levels of paint over pavement; grain and stains stay below
constexpr double kFrom = 0.65, kTo = 1.5, kAside = 0.3;  // of the contrast: along it, and off to other colours
constexpr double kLeastGrown = 0.08, kMostGrown = 1.2;   // of the piece
constexpr double kMostPavement = 0.75;   // mean share that the network gives it; above, it may see better
constexpr int kBeside = 13, kRoom = 20;  // cells

cv::Vec3f median_of(const cv::Mat& picture, const cv::Mat& mask) {
  std::vector<float> values[3];
  for (int r = 0; r < picture.rows; ++r) {
    for (int c = 0; c < picture.cols; ++c) {
      if (mask.at<uchar>(r, c) == 0) continue;
      for (int k = 0; k < 3; ++k)
        values[k].push_back(picture.at<cv::Vec3f>(r, c)[k]);
    }
  }
  cv::Vec3f median;
  for (int k = 0; k < 3; ++k) {
    const auto middle = values[k].begin() + static_cast<std::ptrdiff_t>(values[k].size() / 2);
    std::nth_element(values[k].begin(), middle, values[k].end());
    median[k] = *middle;
  }
  return median;
}

/// Cells of the colour between those of paint and a little beyond, 255.
cv::Mat alike(const cv::Mat& picture, const cv::Vec3f& paint, const cv::Vec3f& pavement) {
  const cv::Vec3f axis = paint - pavement;
  const double contrast = cv::norm(axis);
  const cv::Vec3f unit = axis * static_cast<float>(1 / contrast);
  cv::Mat like(picture.size(), CV_8U, cv::Scalar(0));
  for (int r = 0; r < picture.rows; ++r) {
    for (int c = 0; c < picture.cols; ++c) {
      const cv::Vec3f over = picture.at<cv::Vec3f>(r, c) - pavement;
      const auto along = static_cast<double>(over.dot(unit));
      if (along < kFrom * contrast || along > kTo * contrast) continue;
      if (cv::norm(over - static_cast<float>(along) * unit) < kAside * contrast) like.at<uchar>(r, c) = 255;
    }
  }
  return like;
}

/// What of `cells` hangs together with `core`, both 0 or 255.
cv::Mat joined_to(const cv::Mat& core, const cv::Mat& cells, int neighbours) {
  cv::Mat ids;
  const int count = cv::connectedComponents(core | cells, ids, neighbours, CV_32S);
  std::vector<uchar> holds(static_cast<std::size_t>(count), 0);
  for (int r = 0; r < ids.rows; ++r) {
    for (int c = 0; c < ids.cols; ++c) {
      if (core.at<uchar>(r, c) != 0) holds[static_cast<std::size_t>(ids.at<int>(r, c))] = 255;
    }
  }
  cv::Mat joined(ids.size(), CV_8U);
  for (int r = 0; r < ids.rows; ++r) {
    for (int c = 0; c < ids.cols; ++c)
      joined.at<uchar>(r, c) = cells.at<uchar>(r, c) & holds[static_cast<std::size_t>(ids.at<int>(r, c))];
  }
  return joined;
}

bool leaves(const cv::Mat& grown, cv::Rect room, cv::Size whole) {
  const auto any = [](const cv::Mat& rim) { return cv::countNonZero(rim) > 0; };
  return (room.x > 0 && any(grown.col(0))) || (room.y > 0 && any(grown.row(0))) ||
         (room.br().x < whole.width && any(grown.col(grown.cols - 1))) ||
         (room.br().y < whole.height && any(grown.row(grown.rows - 1)));
}

}  // namespace

void grow_coats(PaintMap& map) {
  cv::Mat picture, ids, stats, middles;
  map.picture.convertTo(picture, CV_32F);
  cv::GaussianBlur(picture, picture, {}, 0.6);
  const cv::Mat painted = map.footprint > kPainted;
  const int count = cv::connectedComponentsWithStats(painted, ids, stats, middles, 8, CV_32S);
  cv::Mat all(painted.size(), CV_8U, cv::Scalar(0));
  for (int i = 1; i < count; ++i) {
    const int* s = stats.ptr<int>(i);
    const int cells = s[cv::CC_STAT_AREA];
    if (cells < kFewestCells) continue;
    const int wide = s[cv::CC_STAT_WIDTH], high = s[cv::CC_STAT_HEIGHT], room = std::max(wide, high) + kRoom;
    const cv::Rect around =
        cv::Rect(s[cv::CC_STAT_LEFT] - room, s[cv::CC_STAT_TOP] - room, wide + 2 * room, high + 2 * room) &
        cv::Rect({0, 0}, painted.size());
    const cv::Mat piece = ids(around) == i, seen = picture(around);
    const cv::Mat sure = piece & (map.top_coat(around) > kSure);
    cv::Mat beside;
    cv::dilate(piece, beside, cv::Mat::ones(kBeside, kBeside, CV_8U));
    beside &= map.pavement(around) > kBare;
    if (cv::countNonZero(sure) < kFewestToSee || cv::countNonZero(beside) < kFewestToSee) continue;
    const cv::Vec3f paint = median_of(seen, sure), pavement = median_of(seen, beside);
    if (cv::norm(paint - pavement) < kLeastContrast) continue;
    const cv::Mat like = alike(seen, paint, pavement);
    cv::Mat grown = joined_to(piece, like, 4) & ~painted(around);
    cv::morphologyEx(grown, grown, cv::MORPH_OPEN, cv::Mat::ones(3, 3, CV_8U));
    grown = joined_to(piece, grown, 8);
    const int more = cv::countNonZero(grown);
    if (more < std::max<double>(kFewestGrown, kLeastGrown * cells) || more > kMostGrown * cells) continue;
    if (leaves(grown, around, painted.size()) || cv::mean(map.pavement(around), grown)[0] > kMostPavement) continue;
    cv::Mat there = all(around);
    there |= grown;
  }
  for (cv::Mat* layer :
       {&map.pavement, &map.not_ground, &map.older_coat, &map.lost_abraded, &map.lost_flaked, &map.lost_cracked})
    layer->setTo(0, all);
  for (cv::Mat* layer : {&map.top_coat, &map.footprint, &map.guess})
    layer->setTo(1, all);
}

}  // namespace lotwear
