#include "marking/shape_fit.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "marking/map_agreement.hpp"
#include "marking/shape_slide.hpp"

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi;

/// Pattern search: one knob at a time, shrinking steps. Few knobs, cheap and repeatable; gradients of a raster are
/// noise.
template <class Value>
double climb(std::vector<double>& knobs, Value&& value, int rounds, double step) {
  constexpr double kFinest = 0.02;  // a twentieth of a pixel of the raster: smaller tries draw the same again
  double best = value(knobs);
  std::vector<double> steps(knobs.size(), step);
  for (int round = 0; round < rounds; ++round) {
    for (std::size_t k = 0; k < knobs.size(); ++k) {
      if (steps[k] < kFinest) continue;
      bool moved = false;
      for (const double direction : {1.0, -1.0}) {
        std::vector<double> trial = knobs;
        trial[k] += direction * steps[k];
        const double v = value(trial);
        if (v > best) {
          best = v, knobs = trial, moved = true;
          break;
        }
      }
      steps[k] *= moved ? 1.4 : 0.55;
    }
  }
  return best;
}

/// Footprint pixels of a map, and the box around them along any direction.
struct Extents {
  std::vector<cv::Point2d> points;
  double angle = 0;  // of the smallest box around them, radians

  struct Box {
    double x0 = 1e9, x1 = -1e9, y0 = 1e9, y1 = -1e9;
  };
  /// In a frame turned by `turn`.
  Box along(double turn) const {
    Box box;
    const double c = std::cos(turn), s = std::sin(turn);
    for (const auto& p : points) {
      const double x = c * p.x + s * p.y, y = -s * p.x + c * p.y;
      box.x0 = std::min(box.x0, x), box.x1 = std::max(box.x1, x), box.y0 = std::min(box.y0, y),
      box.y1 = std::max(box.y1, y);
    }
    return box;
  }
};

Extents extents_of(const cv::Mat& footprint) {
  Extents extents;
  std::vector<cv::Point> points, hull;
  cv::findNonZero(footprint > 0.5F, points);
  if (points.size() < 8) return extents;
  cv::convexHull(points, hull);
  for (const auto& p : hull)
    extents.points.emplace_back(p.x + 0.5, p.y + 0.5);
  extents.angle = static_cast<double>(cv::minAreaRect(hull).angle) * kPi / 180;
  return extents;
}

/// Proportions that a fit begins from: the usual ones; where a side arm may be short or long, a long one too (from a
/// short arm with a large head the way to a long one with a small head leads through worse); and a wide shaft, as
/// home-made stencils have it (a narrow one laid over it turns its head to where the width is).
std::vector<std::vector<double>> first_values(const Shape& shape) {
  std::vector<std::vector<double>> starts = {usual_values(shape)};
  for (std::size_t i = 0; i < shape.proportions.size(); ++i) {
    const Proportion& p = shape.proportions[i];
    if ((p.name != "arm-length" && p.name != "shaft-width") || p.high < 2 * p.usual) continue;
    const std::size_t before = starts.size();
    for (std::size_t k = 0; k < before; ++k) {
      starts.push_back(starts[k]);
      starts.back()[i] = (p.usual + p.high) / 2;
    }
  }
  return starts;
}

/// A shape that the photo cuts is so many times as long as what is seen of it.
constexpr std::array<double, 2> kLonger = {1.45, 2.1};

/// The shape laid so that its box covers the box of the pixels, for one way of pointing.
ShapePose laid_over(const Extents& extents, const Shape& shape, std::size_t index, const std::vector<double>& values,
                    double turn, double mm) {
  ShapePose pose;
  pose.shape = index;
  pose.values = values;
  pose.turn = turn;
  const Extents::Box box = extents.along(turn);
  pose.length_mm = std::max(1.0, box.y1 - box.y0 + 1) * mm;
  double x0 = 1e9, x1 = -1e9;
  for (const GroundRing& ring : outline(shape, pose.length_mm / mm, pose.values)) {
    for (const GroundPoint& p : ring)
      x0 = std::min(x0, p.x), x1 = std::max(x1, p.x);
  }
  const double x = (box.x0 + box.x1) / 2 - (x0 + x1) / 2, y = (box.y0 + box.y1) / 2;
  const double c = std::cos(turn), s = std::sin(turn);
  pose.middle = {c * x - s * y, s * x + c * y};
  return pose;
}

struct Candidate {
  ShapePose pose;
  double value = -1;
};

void best_first(std::vector<Candidate>& candidates, std::size_t keep) {
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.value > b.value; });
  if (candidates.size() > keep) candidates.resize(keep);
}

/// Climbs every candidate on `map`.
void climb_all(std::vector<Candidate>& candidates, const cv::Mat& map, const cv::Mat& inside, double mm, double cell_mm,
               const std::vector<Shape>& shapes, int rounds, double step) {
  MapAgreement agreement(map, inside);
  const Knobs knobs{std::max(1.0, cell_mm / mm)};
  for (Candidate& c : candidates) {
    const Shape& shape = shapes[c.pose.shape];
    std::vector<double> v = knobs.pack(c.pose, shape);
    Drawing drawing(shape, mm);
    c.value = climb(
        v,
        [&](const std::vector<double>& k) {
          return agreement.of(drawing.at(knobs.unpack(k, c.pose, shape))) - oddness(k);
        },
        rounds, step);
    c.pose = knobs.unpack(v, c.pose, shape);
  }
}

/// Of all shapes, by what a climb on the stamp made of each. Two ways of one shape among them were no gain.
constexpr std::size_t kSlid = 8, kClimbed = 5;

/// Sliding is believed where the drawing then explains nearly all. On 21 scenes whose outlines it had changed, 0.86
/// left a third of the better ones as they were; without a limit it follows the holes of worn paint.
constexpr double kWholeOutline = 0.80;
constexpr double kMostGained = 0.2;  // agreement, by sliding

void slide_all(std::vector<Candidate>& candidates, const cv::Mat& map, const cv::Mat& inside, double mm, double cell_mm,
               const std::vector<Shape>& shapes) {
  MapAgreement agreement(map, inside);
  const MapOutline outline = outline_of(map, inside);
  const Knobs knobs{std::max(1.0, cell_mm / mm)};
  for (Candidate& c : candidates) {
    const Shape& shape = shapes[c.pose.shape];
    if (shape.kind == Kind::stop_line)
      continue;  // a bar: its search is never stuck, and beside others it would run into them
    const auto worth = [&](const ShapePose& pose) {
      return agreement.of(rings_in_patch(pose, shape, mm)) - oddness(knobs.pack(pose, shape));
    };
    c.value = worth(c.pose);
    if (c.value < kWholeOutline - kMostGained) continue;
    const ShapePose there = slid(c.pose, shape, outline, mm, knobs);
    const double moved = worth(there);
    if (moved > std::max(c.value, kWholeOutline)) c.pose = there, c.value = moved;
  }
}

std::vector<GroundRing> on_ground(const ShapePose& pose, const Shape& shape, const PatchPlace& place) {
  std::vector<GroundRing> rings;
  for (const PatchRing& ring : rings_in_patch(pose, shape, place.mm_per_pixel)) {
    GroundRing& g = rings.emplace_back();
    for (const PatchPoint& p : ring)
      g.push_back(place.ground(p));
  }
  return rings;
}

}  // namespace

std::optional<FittedShape> fit_shape(const Patch& patch, const std::vector<Shape>& shapes, double cell_mm) {
  // three rasters: pointing is told on a stamp, proportions on a small picture, ends on the finder's own detail
  const cv::Mat stamp = shrunk(patch.footprint, 48), small = shrunk(patch.footprint, 110);
  const double full_side = std::max(patch.frame.width, patch.frame.height);
  const double stamp_mm = patch.frame.mm_per_pixel * full_side / std::max(stamp.cols, stamp.rows);
  const double small_mm = patch.frame.mm_per_pixel * full_side / std::max(small.cols, small.rows);
  const auto seen_in = [&](const cv::Mat& map) {
    cv::Mat inside;
    cv::resize(patch.inside, inside, map.size(), 0, 0, cv::INTER_NEAREST);
    return inside;
  };
  const cv::Mat stamp_inside = seen_in(stamp), small_inside = seen_in(small);
  const bool cut_off = cv::countNonZero(stamp_inside) < 0.995 * static_cast<double>(stamp_inside.total());
  const Extents extents = extents_of(stamp);
  if (extents.points.size() < 3) return std::nullopt;

  std::vector<Candidate> candidates;
  MapAgreement rough(stamp, stamp_inside);
  for (std::size_t s = 0; s < shapes.size(); ++s) {
    std::vector<Candidate> ways;
    const std::vector<std::vector<double>> starts = first_values(shapes[s]);
    for (std::size_t k = 0; k < 12 * starts.size(); ++k) {
      const double turn = extents.angle + static_cast<double>(k % 12) * kPi / 6;
      const ShapePose pose = laid_over(extents, shapes[s], s, starts[k / 12], turn, stamp_mm);
      ways.push_back({pose, rough.of(rings_in_patch(pose, shapes[s], stamp_mm))});
      if (!cut_off) continue;
      // part of it may lie outside the photo: longer ones, with either end where it is seen
      for (const double times : kLonger) {
        for (const double end : {-0.5, 0.5}) {
          ShapePose longer = pose;
          longer.length_mm *= times;
          const double shift = end * (longer.length_mm - pose.length_mm) / stamp_mm;
          longer.middle = pose.middle + PatchPoint{-std::sin(pose.turn), std::cos(pose.turn)} * shift;
          ways.push_back({longer, rough.of(rings_in_patch(longer, shapes[s], stamp_mm))});
        }
      }
    }
    best_first(ways, cut_off ? 9 : 4);
    climb_all(ways, stamp, stamp_inside, stamp_mm, cell_mm, shapes, 5, 1.0);
    candidates.push_back(*std::max_element(ways.begin(), ways.end(),
                                           [](const Candidate& a, const Candidate& b) { return a.value < b.value; }));
  }
  best_first(candidates, kSlid);
  for (Candidate& c : candidates)
    c.pose = moved_to(c.pose, stamp_mm / small_mm);
  slide_all(candidates, small, small_inside, small_mm, cell_mm, shapes);
  best_first(candidates, kClimbed);
  climb_all(candidates, small, small_inside, small_mm, cell_mm, shapes, 20, 0.7);
  best_first(candidates, kClimbed);
  if (candidates.empty() || candidates.front().value < 0.25) return std::nullopt;
  FittedShape fitted;
  fitted.pose = candidates.front().pose;
  fitted.kind = shapes[fitted.pose.shape].kind;
  fitted.agreement = candidates.front().value;
  for (const Candidate& c : candidates) {
    if (shapes[c.pose.shape].kind == fitted.kind) continue;
    fitted.runner_up = c.value;
    fitted.runner_up_kind = shapes[c.pose.shape].kind;
    break;
  }
  for (std::size_t i = 1; i < candidates.size(); ++i) {
    if (candidates[i].value < fitted.agreement - 0.12) continue;
    fitted.rivals.push_back(moved_to(candidates[i].pose, small_mm / patch.frame.mm_per_pixel));
  }
  fitted.pose = moved_to(fitted.pose, small_mm / patch.frame.mm_per_pixel);
  fitted.rings = on_ground(fitted.pose, shapes[fitted.pose.shape], patch.frame);
  fitted.edge_error_mm = 0.5 * cell_mm;
  return fitted;
}

FittedShape fit_from(const Patch& patch, const Shape& shape, const ShapePose& pose, double cell_mm, double map_pixels) {
  const cv::Mat map = shrunk(patch.footprint, map_pixels);
  cv::Mat inside;
  cv::resize(patch.inside, inside, map.size(), 0, 0, cv::INTER_NEAREST);
  const double by = static_cast<double>(std::max(map.cols, map.rows)) / std::max(patch.frame.width, patch.frame.height),
               map_mm = patch.frame.mm_per_pixel / by;
  const std::vector<Shape> shapes = {shape};
  std::vector<Candidate> candidates = {{moved_to(pose, by), 0}};
  candidates.front().pose.shape = 0;
  slide_all(candidates, map, inside, map_mm, cell_mm, shapes);
  climb_all(candidates, map, inside, map_mm, cell_mm, shapes, 4, 0.5);
  FittedShape fitted;
  fitted.pose = moved_to(candidates.front().pose, 1 / by);
  fitted.kind = shape.kind;
  fitted.agreement = candidates.front().value;
  fitted.rings = on_ground(fitted.pose, shape, patch.frame);
  fitted.edge_error_mm = 0.5 * cell_mm;
  return fitted;
}

}  // namespace lotwear
