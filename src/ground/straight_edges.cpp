#include "ground/straight_edges.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "ground/opencv_points.hpp"

namespace lotwear {

namespace {

constexpr double kPainted = 0.5;         // share of a cell from which the finder's outline runs
constexpr double kStraightCells = 1.2;   // how far the outline may leave a straight run: the finder is good to a cell
constexpr double kShortestCells = 10;    // shorter runs know their direction to 6 degrees at best
constexpr double kShortestShare = 0.02;  // of the photo's diagonal, for the same reason on coarse maps
constexpr double kBorderCells = 3;
constexpr double kMapError = 0.7;      // of a cell: one standard deviation of the finder's own outline
constexpr std::size_t kMostRuns = 48;  // refined on the photo; the longest carry nearly all that can be known
constexpr double kSameLinePx = 3;      // at least; beside it the errors of both
constexpr double kLongestGap = 1.5;    // of the two pieces' joint length

struct Run {
  ImagePoint from, to;
  double length_px = 0;
};

bool clear_of_border(ImagePoint p, cv::Size size, double margin) {
  return p.x > margin && p.y > margin && p.x < size.width - margin && p.y < size.height - margin;
}

std::vector<Run> runs_of_map(const PaintMap& paint, cv::Size photo) {
  cv::Mat painted = paint.footprint > kPainted;
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(painted, outlines, cv::RETR_LIST, cv::CHAIN_APPROX_NONE);
  const double cell = paint.photo_per_cell;
  const double shortest = std::max(kShortestCells * cell, kShortestShare * std::hypot(photo.width, photo.height));
  std::vector<Run> runs;
  for (const auto& outline : outlines) {
    if (static_cast<double>(outline.size()) * cell < shortest) continue;
    std::vector<cv::Point> corners;
    cv::approxPolyDP(outline, corners, kStraightCells, true);
    for (std::size_t i = 0; i < corners.size(); ++i) {
      const ImagePoint a = from_opencv(corners[i], cell), b = from_opencv(corners[(i + 1) % corners.size()], cell);
      const double long_px = length(b - a);
      if (long_px < shortest) continue;
      // Along the border the map's outline is the photo's edge, not the paint's.
      if (!clear_of_border((a + b) * 0.5, photo, kBorderCells * cell)) continue;
      const ImagePoint middle = (a + b) * (0.5 / cell);
      const int column = std::clamp(static_cast<int>(middle.x), 0, paint.footprint.cols - 1);
      const int row = std::clamp(static_cast<int>(middle.y), 0, paint.footprint.rows - 1);
      if (!paint.not_ground.empty() && paint.not_ground.at<float>(row, column) > 0.5F) continue;
      runs.push_back({a, b, long_px});
    }
  }
  std::stable_sort(runs.begin(), runs.end(), [](const Run& a, const Run& b) { return a.length_px > b.length_px; });
  if (runs.size() > kMostRuns) runs.resize(kMostRuns);
  return runs;
}

EdgeSearch search_for(double cell) {
  EdgeSearch search;
  search.reach_px = std::clamp(2.0 * cell, 3.0, 14.0);
  search.most_profiles = 96;
  return search;
}

EdgeLine refined(const Photo& photo, const Run& run, double cell) {
  const ImagePoint d = (run.to - run.from) * (std::min(0.1, cell / run.length_px));  // corners are round in the map
  if (const auto edge = fit_edge(photo, run.from + d, run.to - d, search_for(cell))) return *edge;
  EdgeLine edge;
  edge.from = run.from;
  edge.to = run.to;
  edge.offset_error = kMapError * cell;
  edge.angle_error = 2 * kMapError * cell / run.length_px;
  return edge;
}

double away(const EdgeLine& line, ImagePoint p) {
  const ImagePoint d = line.to - line.from;
  return std::abs(cross(d, p - line.from)) / length(d);
}

/// The two pieces as one segment when they lie on one line and not too far apart.
std::optional<Run> on_one_line(const EdgeLine& a, const EdgeLine& b) {
  const EdgeLine& longer = length(a.to - a.from) >= length(b.to - b.from) ? a : b;
  const EdgeLine& other = &longer == &a ? b : a;
  const ImagePoint along = (longer.to - longer.from) * (1 / length(longer.to - longer.from));
  if (dot(along, other.to - other.from) <= 0)
    return std::nullopt;  // the far side of a narrow stripe runs the other way
  const std::array<double, 4> at = {0, dot(longer.to - longer.from, along), dot(other.from - longer.from, along),
                                    dot(other.to - longer.from, along)};
  const double low = *std::min_element(at.begin(), at.end()), high = *std::max_element(at.begin(), at.end());
  const double joint = length(a.to - a.from) + length(b.to - b.from);
  if (high - low - joint > kLongestGap * joint) return std::nullopt;
  for (const ImagePoint p : {other.from, other.to}) {
    const double reach = std::abs(dot(p - (longer.from + longer.to) * 0.5, along));
    const double allowed =
        kSameLinePx + 2 * std::hypot(longer.offset_error, longer.angle_error * reach, other.offset_error);
    if (away(longer, p) > std::min(allowed, 4 * kSameLinePx)) return std::nullopt;
  }
  return Run{longer.from + along * low, longer.from + along * high, high - low};
}

std::vector<EdgeLine> joined(const Photo& photo, std::vector<EdgeLine> edges, double cell) {
  for (std::size_t i = 0; i < edges.size(); ++i) {
    for (std::size_t j = i + 1; j < edges.size();) {
      const auto run = on_one_line(edges[i], edges[j]);
      const auto edge = run ? fit_edge(photo, run->from, run->to, search_for(cell)) : std::nullopt;
      if (edge && edge->angle_error < edges[i].angle_error) {
        edges[i] = *edge;
        edges.erase(edges.begin() + static_cast<std::ptrdiff_t>(j));
        j = i + 1;
      } else {
        ++j;
      }
    }
  }
  return edges;
}

}  // namespace

std::vector<EdgeLine> straight_edges(const Photo& photo, const PaintMap& paint, std::size_t most) {
  if (paint.footprint.empty()) return {};
  std::vector<EdgeLine> edges;
  for (const Run& run : runs_of_map(paint, photo.rgb.size()))
    edges.push_back(refined(photo, run, paint.photo_per_cell));
  edges = joined(photo, std::move(edges), paint.photo_per_cell);
  std::stable_sort(edges.begin(), edges.end(),
                   [](const EdgeLine& a, const EdgeLine& b) { return length(a.to - a.from) > length(b.to - b.from); });
  if (edges.size() > most) edges.resize(most);
  return edges;
}

}  // namespace lotwear
