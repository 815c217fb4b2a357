#include "ground/paper_quad.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "ground/opencv_points.hpp"

namespace lotwear {

namespace {

// Correlation with the pattern: 283 of 290 rendered sheets reach 0.64 to 0.9 (the others are cut by the photo's edge or
// have a shadow's edge across), the likest of what is none in 524 scenes without 0.32.
constexpr double kAlike = 0.48;
constexpr double kSure = 0.6;  // no need to look on
constexpr int kSide = 96;  // the quadrilateral, drawn as a square of so many pixels: 5 to a cell of a large fiducial
constexpr double kSoft = 1.2;  // pixels
constexpr int kLeastWide = 14;
constexpr double kMostOfPhoto = 0.25;
constexpr double kRagged = 0.12;  // hull and quadrilateral differ by less, of the area

/// Brighter than what lies around by so much of 255, around being this share of the photo's longer side. In the sun the
/// pavement's own light spots would run into the paper; in deep shade paper is little brighter than pavement.
struct Bright {
  double around = 0, by = 0;
};
constexpr std::array<Bright, 3> kBright = {{{0.05, 50}, {0.03, 25}, {0.05, 12}}};

/// The printed sheet drawn as a square, once for every way it may lie, less its mean and of length 1.
struct Pattern {
  Paper paper = Paper::letter;
  int turns = 0;  ///< quarter turns; the sheet's top-left corner is the square's corner of this number, clockwise
  cv::Mat drawn;  ///< CV_32F
};

cv::Mat normalised(const cv::Mat& picture) {
  cv::Mat even;
  picture.convertTo(even, CV_32F);
  even -= cv::mean(even)[0];
  const double length = cv::norm(even);
  return length > 0 ? cv::Mat(even / length) : even;
}

std::vector<Pattern> all_patterns() {
  constexpr int kFine = 8;  // drawn finer first, so that its cells' edges are where they belong
  std::vector<Pattern> patterns;
  for (const Paper paper : {Paper::letter, Paper::a4}) {
    const SheetLayout layout = sheet_layout(paper);
    cv::Mat sheet(kFine * kSide, kFine * kSide, CV_8U, cv::Scalar(255));
    const double across = sheet.cols / layout.width_mm, down = sheet.rows / layout.height_mm;
    for (const Fiducial& f : layout.fiducials) {
      const cv::Rect at(cv::Point(cvRound(f.x_mm * across), cvRound(f.y_mm * down)),
                        cv::Point(cvRound((f.x_mm + f.side_mm) * across), cvRound((f.y_mm + f.side_mm) * down)));
      cv::resize(fiducial_cells(f.id) * 255, sheet(at), at.size(), 0, 0, cv::INTER_NEAREST);
    }
    cv::resize(sheet, sheet, {kSide, kSide}, 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(sheet, sheet, {}, kSoft, kSoft, cv::BORDER_REPLICATE);
    for (int turns = 0; turns < 4; ++turns) {
      patterns.push_back({paper, turns, normalised(sheet)});
      cv::rotate(sheet, sheet, cv::ROTATE_90_CLOCKWISE);
    }
  }
  return patterns;
}

/// Corners clockwise; nothing where the outline is no quadrilateral.
std::vector<cv::Point2f> quadrilateral(const std::vector<cv::Point>& outline, cv::Size picture) {
  const cv::Rect box = cv::boundingRect(outline);
  if (std::max(box.width, box.height) < kLeastWide || box.area() > kMostOfPhoto * picture.area()) return {};
  std::vector<cv::Point> hull, corners;
  cv::convexHull(outline, hull, false);  // clockwise where y runs down
  const double around = cv::arcLength(hull, true);
  for (double loose = 0.02; loose < 0.085; loose += 0.01) {
    cv::approxPolyDP(hull, corners, loose * around, true);
    if (corners.size() <= 4) break;
  }
  const double area = cv::contourArea(hull);
  if (corners.size() != 4 || area < kLeastWide * kLeastWide) return {};
  if (std::abs(cv::contourArea(corners) - area) > kRagged * area) return {};
  return {corners.begin(), corners.end()};
}

/// How like each pattern the quadrilateral is; the likest.
PaperQuad likest(const cv::Mat& grey, const std::vector<cv::Point2f>& corners) {
  static const std::vector<Pattern> patterns = all_patterns();
  constexpr float side = kSide;
  const std::array<cv::Point2f, 4> square{cv::Point2f(0, 0), {side, 0}, {side, side}, {0, side}};
  cv::Mat seen;
  cv::warpPerspective(grey, seen, cv::getPerspectiveTransform(corners.data(), square.data()), {kSide, kSide},
                      cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  seen = normalised(seen);
  PaperQuad best;
  for (const Pattern& pattern : patterns) {
    const double likeness = seen.dot(pattern.drawn);
    if (likeness <= best.likeness) continue;
    best.likeness = likeness;
    best.paper = pattern.paper;
    for (std::size_t k = 0; k < 4; ++k)
      best.corners[k] = from_opencv(corners[(k + static_cast<std::size_t>(pattern.turns)) % 4], 1, {});
  }
  return best;
}

}  // namespace

std::optional<PaperQuad> find_paper(const cv::Mat& grey) {
  cv::Mat soft, bright;
  cv::GaussianBlur(grey, soft, {}, kSoft, kSoft, cv::BORDER_REPLICATE);
  const double longer = std::max(grey.cols, grey.rows);
  PaperQuad best;
  for (const Bright& way : kBright) {
    const int around = 2 * static_cast<int>(way.around * longer / 2) + 1;
    if (around < 3) return std::nullopt;
    cv::adaptiveThreshold(soft, bright, 255, cv::ADAPTIVE_THRESH_MEAN_C, cv::THRESH_BINARY, around, -way.by);
    std::vector<std::vector<cv::Point>> outlines;
    cv::findContours(bright, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
    for (const std::vector<cv::Point>& outline : outlines) {
      const std::vector<cv::Point2f> corners = quadrilateral(outline, grey.size());
      if (corners.empty()) continue;
      PaperQuad quad = likest(grey, corners);
      if (quad.likeness > best.likeness) best = quad;
    }
    if (best.likeness > kSure) break;
  }
  if (best.likeness < kAlike) return std::nullopt;
  return best;
}

}  // namespace lotwear
