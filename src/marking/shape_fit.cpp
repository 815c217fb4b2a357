#include "marking/shape_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi;

using PatchRing = Ring<struct PatchFrame>;

/// An outline laid where a pose says.
std::vector<PatchRing> laid_in_patch(const std::vector<GroundRing>& outline, const ShapePose& pose, double mm_per_pixel) {
  const double c = std::cos(pose.turn), s = std::sin(pose.turn), stretch = std::exp(pose.squeeze);
  const double whole = pose.length_mm / mm_per_pixel;
  std::vector<PatchRing> rings;
  rings.reserve(outline.size());
  for (const GroundRing& ring : outline) {
    PatchRing placed;
    placed.reserve(ring.size());
    for (const GroundPoint& p : ring) {
      const double depth = std::max(0.5, 1 + (pose.lean_x * p.x + pose.lean_y * p.y) / whole);
      const double x = (p.x * stretch + p.y * pose.shear) / depth, y = p.y / depth;
      placed.push_back({pose.middle.x + c * x - s * y, pose.middle.y + s * x + c * y});
    }
    rings.push_back(std::move(placed));
  }
  return rings;
}

std::vector<PatchRing> rings_in_patch(const ShapePose& pose, const Shape& shape, double mm_per_pixel) {
  return laid_in_patch(outline(shape, pose.length_mm / mm_per_pixel, pose.values), pose, mm_per_pixel);
}

/// One shape drawn over and over: most poses differ from the one before in place only, and the outline is the same.
class Drawing {
 public:
  Drawing(const Shape& shape, double mm_per_pixel) : shape_(shape), mm_(mm_per_pixel) {}
  std::vector<PatchRing> at(const ShapePose& pose) {
    if (outline_.empty() || pose.length_mm != length_mm_ || pose.values != values_) {
      outline_ = outline(shape_, pose.length_mm / mm_, pose.values);
      length_mm_ = pose.length_mm, values_ = pose.values;
    }
    return laid_in_patch(outline_, pose, mm_);
  }

 private:
  const Shape& shape_;
  double mm_, length_mm_ = 0;
  std::vector<double> values_;
  std::vector<GroundRing> outline_;
};

/// Agreement of filled rings with the map, both as shares: sum of minima over sum of maxima. Nothing is drawn: along every
/// row the rings' crossings bound stretches, and running sums of the map tell what lies in a stretch. Around the map lies a
/// margin half as wide again, bare of paint and inside the photo where the map's rim is: a shape that reaches beyond the
/// paint pays for it there too.
class Agreement {
 public:
  Agreement(const cv::Mat& footprint, const cv::Mat& inside)
      : cols_(footprint.cols), map_rows_(footprint.rows), margin_rows_(footprint.rows / 2), reach_(static_cast<float>(footprint.cols) / 2),
        rows_(static_cast<std::size_t>(footprint.rows + 2 * (footprint.rows / 2))) {
    sums_.reserve(static_cast<std::size_t>(map_rows_) * static_cast<std::size_t>(cols_ + 1));
    for (int r = 0; r < footprint.rows; ++r) {
      Sum sum;
      sums_.push_back(sum);
      for (int c = 0; c < cols_; ++c) {
        // what lies outside the photo speaks neither for nor against
        const bool seen = inside.at<uchar>(r, c) != 0;
        sum.map += seen ? footprint.at<float>(r, c) : 0.0F;
        sum.seen += seen ? 1.0F : 0.0F;
        sums_.push_back(sum);
      }
      total_ += static_cast<double>(sum.map);
    }
  }
  double of(const std::vector<PatchRing>& rings) {
    for (auto& row : rows_) row.clear();
    double all = 0;
    for (const PatchRing& ring : rings) {
      const double around = signed_area(ring);
      cross_rows(ring, around > 0 ? 1 : -1);
      all += std::abs(around);
    }
    double both = 0, own = 0;
    for (std::size_t r = 0; r < rows_.size(); ++r) {
      std::vector<Crossing>& row = rows_[r];
      // a handful, nearly in order
      for (std::size_t i = 1; i < row.size(); ++i) {
        for (std::size_t k = i; k > 0 && row[k].x < row[k - 1].x; --k) std::swap(row[k], row[k - 1]);
      }
      int deep = 0;
      for (std::size_t i = 0; i < row.size(); ++i) {
        const int before = deep;
        deep += row[i].turn;
        if (before <= 0 && deep > 0) {
          const Sum sum = sum_to(r, row[i].x - kReach);
          both -= static_cast<double>(sum.map), own -= static_cast<double>(sum.seen);
        } else if (before > 0 && deep <= 0) {
          const Sum sum = sum_to(r, row[i].x + kReach);
          both += static_cast<double>(sum.map), own += static_cast<double>(sum.seen);
        }
      }
    }
    const double hidden = std::clamp(1 - own / std::max(1e-9, all), 0.0, 1.0);
    return both / std::max(1e-9, total_ + own - both) - kHiddenCost * hidden;
  }

 private:
  struct Sum { float map = 0, seen = 0; };          ///< of a row's cells so far
  struct Crossing { float x = 0; int turn = 0; };   ///< +1: into the ring
  /// What cannot be seen explains nothing: of two drawings that fit alike, the one that shows more of itself is the better.
  static constexpr double kHiddenCost = 0.12;
  static constexpr float kReach = 0.5F;   ///< pixels: cells that the outline runs through count as inside; with 0 a fifth more false alarms

  void cross_rows(const PatchRing& ring, int inward) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const PatchPoint a = ring[i], b = ring[i + 1 < ring.size() ? i + 1 : 0];
      const double low = std::min(a.y, b.y) - 0.5 + margin_rows_, high = std::max(a.y, b.y) - 0.5 + margin_rows_;
      const int from = static_cast<int>(std::ceil(std::max(low, 0.0))), to = static_cast<int>(std::ceil(std::min(high, static_cast<double>(rows_.size()))));
      if (from >= to) continue;
      const double slope = (b.x - a.x) / (b.y - a.y);
      // a ring that turns towards +y first runs up along its left side
      const int turn = (b.y > a.y ? -1 : 1) * inward;
      for (int r = from; r < to; ++r) rows_[static_cast<std::size_t>(r)].push_back({static_cast<float>(a.x + (r - margin_rows_ + 0.5 - a.y) * slope), turn});
    }
  }
  Sum sum_to(std::size_t row, float x) const {
    const int map_row = static_cast<int>(row) - margin_rows_;
    const int r = std::clamp(map_row, 0, map_rows_ - 1);
    const float at = std::clamp(x, 0.0F, static_cast<float>(cols_) - 0.001F);
    const int c = static_cast<int>(at);
    const float part = at - static_cast<float>(c);
    const Sum* line = sums_.data() + static_cast<std::size_t>(r) * static_cast<std::size_t>(cols_ + 1);
    const Sum *sum = line + c, *last = line + cols_;
    Sum here{sum[0].map + part * (sum[1].map - sum[0].map), sum[0].seen + part * (sum[1].seen - sum[0].seen)};
    if (x < 0) here.seen += std::max(x, -reach_) * line[1].seen;
    if (x > at) here.seen += std::min(x - at, reach_) * (last->seen - last[-1].seen);
    if (r != map_row) here.map = 0;
    return here;
  }

  int cols_ = 0, map_rows_ = 0, margin_rows_ = 0;
  float reach_ = 0;
  std::vector<std::vector<Crossing>> rows_;
  std::vector<Sum> sums_;
  double total_ = 0;
};

constexpr std::size_t kPlaceKnobs = 8;   // before the shape's own proportions

/// Free numbers of a pose, scaled so that 1 is a sensible step for each.
struct Knobs {
  double cell_px;
  std::vector<double> pack(const ShapePose& p, const Shape& shape) const {
    std::vector<double> v = {p.middle.x / cell_px, p.middle.y / cell_px, p.turn / 0.08, std::log(p.length_mm) / 0.06,
                             p.squeeze / 0.06, p.shear / 0.06, p.lean_x / 0.06, p.lean_y / 0.06};
    for (std::size_t i = 0; i < shape.proportions.size(); ++i) {
      const Proportion& q = shape.proportions[i];
      v.push_back((p.values[i] - q.usual) / std::max(1e-9, 0.15 * (q.high - q.low)));
    }
    return v;
  }
  ShapePose unpack(const std::vector<double>& v, const ShapePose& like, const Shape& shape) const {
    ShapePose p = like;
    p.middle = {v[0] * cell_px, v[1] * cell_px};
    p.turn = v[2] * 0.08;
    p.length_mm = std::exp(v[3] * 0.06);
    p.squeeze = v[4] * 0.06;
    p.shear = v[5] * 0.06;
    p.lean_x = v[6] * 0.06;
    p.lean_y = v[7] * 0.06;
    for (std::size_t i = 0; i < shape.proportions.size(); ++i) {
      const Proportion& q = shape.proportions[i];
      p.values[i] = std::clamp(q.usual + v[kPlaceKnobs + i] * 0.15 * (q.high - q.low), q.low, q.high);
    }
    return p;
  }
};

/// Pattern search: one knob at a time, shrinking steps. Few knobs, cheap and repeatable; gradients of a raster are noise.
template <class Value>
double climb(std::vector<double>& knobs, Value&& value, int rounds, double step) {
  constexpr double kFinest = 0.02;   // a twentieth of a pixel of the raster: smaller tries draw the same again
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
  double angle = 0;   // of the smallest box around them, radians

  struct Box { double x0 = 1e9, x1 = -1e9, y0 = 1e9, y1 = -1e9; };
  /// In a frame turned by `turn`.
  Box along(double turn) const {
    Box box;
    const double c = std::cos(turn), s = std::sin(turn);
    for (const auto& p : points) {
      const double x = c * p.x + s * p.y, y = -s * p.x + c * p.y;
      box.x0 = std::min(box.x0, x), box.x1 = std::max(box.x1, x), box.y0 = std::min(box.y0, y), box.y1 = std::max(box.y1, y);
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
  for (const auto& p : hull) extents.points.emplace_back(p.x + 0.5, p.y + 0.5);
  extents.angle = static_cast<double>(cv::minAreaRect(hull).angle) * kPi / 180;
  return extents;
}

/// Proportions that a fit begins from: the usual ones; where a side arm may be short or long, a long one too (from a short
/// arm with a large head the way to a long one with a small head leads through worse); and a wide shaft, as home-made
/// stencils have it (a narrow one laid over it turns its head to where the width is).
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

/// The shape laid so that its box covers the box of the pixels, for one way of pointing.
ShapePose laid_over(const Extents& extents, const Shape& shape, std::size_t index, const std::vector<double>& values, double turn, double mm) {
  ShapePose pose;
  pose.shape = index;
  pose.values = values;
  pose.turn = turn;
  const Extents::Box box = extents.along(turn);
  pose.length_mm = std::max(1.0, box.y1 - box.y0 + 1) * mm;
  double x0 = 1e9, x1 = -1e9;
  for (const GroundRing& ring : outline(shape, pose.length_mm / mm, pose.values)) {
    for (const GroundPoint& p : ring) x0 = std::min(x0, p.x), x1 = std::max(x1, p.x);
  }
  const double x = (box.x0 + box.x1) / 2 - (x0 + x1) / 2, y = (box.y0 + box.y1) / 2;
  const double c = std::cos(turn), s = std::sin(turn);
  pose.middle = {c * x - s * y, s * x + c * y};
  return pose;
}

/// `map` made so small that its long side has `pixels`.
cv::Mat shrunk(const cv::Mat& map, double pixels) {
  const double by = std::min(1.0, pixels / std::max(map.cols, map.rows));
  cv::Mat small;
  cv::resize(map, small, {std::max(8, static_cast<int>(std::lround(map.cols * by))), std::max(8, static_cast<int>(std::lround(map.rows * by)))}, 0, 0, cv::INTER_AREA);
  return small;
}

ShapePose moved_to(ShapePose pose, double by) {
  pose.middle = pose.middle * by;
  return pose;
}

struct Candidate {
  ShapePose pose;
  double value = -1;
};

void best_first(std::vector<Candidate>& candidates, std::size_t keep) {
  std::stable_sort(candidates.begin(), candidates.end(), [](const Candidate& a, const Candidate& b) { return a.value > b.value; });
  if (candidates.size() > keep) candidates.resize(keep);
}

/// Climbs every candidate on `map`; a pose far from the trade's drawing costs a little, ties go to the plain shape.
void climb_all(std::vector<Candidate>& candidates, const cv::Mat& map, const cv::Mat& inside, double mm, double cell_mm,
               const std::vector<Shape>& shapes, int rounds, double step) {
  Agreement agreement(map, inside);
  const Knobs knobs{std::max(1.0, cell_mm / mm)};
  for (Candidate& c : candidates) {
    const Shape& shape = shapes[c.pose.shape];
    std::vector<double> v = knobs.pack(c.pose, shape);
    Drawing drawing(shape, mm);
    c.value = climb(v, [&](const std::vector<double>& k) {
      double cost = 0;
      for (std::size_t i = 4; i < k.size(); ++i) cost += 0.0006 * k[i] * k[i];
      return agreement.of(drawing.at(knobs.unpack(k, c.pose, shape))) - cost;
    }, rounds, step);
    c.pose = knobs.unpack(v, c.pose, shape);
  }
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
  Agreement rough(stamp, stamp_inside);
  for (std::size_t s = 0; s < shapes.size(); ++s) {
    std::vector<Candidate> ways;
    const std::vector<std::vector<double>> starts = first_values(shapes[s]);
    for (std::size_t k = 0; k < 12 * starts.size(); ++k) {
      const double turn = extents.angle + static_cast<double>(k % 12) * kPi / 6;
      const ShapePose pose = laid_over(extents, shapes[s], s, starts[k / 12], turn, stamp_mm);
      ways.push_back({pose, rough.of(rings_in_patch(pose, shapes[s], stamp_mm))});
      if (!cut_off) continue;
      // part of it may lie outside the photo: longer ones, with either end where it is seen
      for (const double end : {-0.5, 0.5}) {
        ShapePose longer = pose;
        longer.length_mm *= 1.45;
        const double shift = end * (longer.length_mm - pose.length_mm) / stamp_mm;
        longer.middle = pose.middle + PatchPoint{-std::sin(pose.turn), std::cos(pose.turn)} * shift;
        ways.push_back({longer, rough.of(rings_in_patch(longer, shapes[s], stamp_mm))});
      }
    }
    best_first(ways, cut_off ? 7 : 4);
    climb_all(ways, stamp, stamp_inside, stamp_mm, cell_mm, shapes, 5, 1.0);
    best_first(ways, 1);
    candidates.push_back(ways.front());
  }
  best_first(candidates, 5);
  for (Candidate& c : candidates) c.pose = moved_to(c.pose, stamp_mm / small_mm);
  climb_all(candidates, small, small_inside, small_mm, cell_mm, shapes, 20, 0.7);
  best_first(candidates, 5);
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
  for (const PatchRing& ring : rings_in_patch(fitted.pose, shapes[fitted.pose.shape], patch.frame.mm_per_pixel)) {
    GroundRing g;
    for (const PatchPoint& p : ring) g.push_back(patch.frame.ground(p));
    fitted.rings.push_back(std::move(g));
  }
  fitted.edge_error_mm = 0.5 * cell_mm;
  return fitted;
}

namespace {

/// Boundary points with outward normals, `counts` of them spaced evenly around every ring from its first point: a slightly
/// changed pose gives the same points again, however many corners its curves are drawn with.
struct Rim {
  std::vector<PatchPoint> points;
  std::vector<PatchPoint> normals;
};

Rim rim_of(const std::vector<PatchRing>& rings, const std::vector<int>& counts) {
  Rim rim;
  for (std::size_t r = 0; r < rings.size() && r < counts.size(); ++r) {
    const PatchRing& ring = rings[r];
    double twice = 0;
    for (std::size_t i = 0; i < ring.size(); ++i) twice += cross(ring[i], ring[(i + 1) % ring.size()]);
    const double outward = twice > 0 ? 1 : -1, around = perimeter(ring);
    std::size_t i = 0;
    double before = 0;
    for (int k = 0; k < counts[r]; ++k) {
      const double at = (k + 0.5) / counts[r] * around;
      while (i + 1 < ring.size() && before + length(ring[i + 1] - ring[i]) < at) {
        before += length(ring[i + 1] - ring[i]);
        ++i;
      }
      const PatchPoint a = ring[i], d = ring[(i + 1) % ring.size()] - a;
      const double len = std::max(1e-9, length(d));
      rim.points.push_back(a + d * std::clamp((at - before) / len, 0.0, 1.0));
      rim.normals.push_back({outward * d.y / len, -outward * d.x / len});
    }
  }
  return rim;
}

}  // namespace

namespace {

/// How paintness changes from pixel to pixel, right and down.
struct Gradient {
  cv::Mat x, y;
};

Gradient gradient_of(const cv::Mat& paintness) {
  cv::Mat smooth;
  cv::GaussianBlur(paintness, smooth, {0, 0}, 1.5, 1.5, cv::BORDER_REPLICATE);
  const cv::Mat difference = (cv::Mat_<float>(1, 3) << -0.5F, 0.0F, 0.5F);
  Gradient gradient;
  cv::filter2D(smooth, gradient.x, CV_32F, difference, {-1, -1}, 0, cv::BORDER_REPLICATE);
  cv::filter2D(smooth, gradient.y, CV_32F, difference.t(), {-1, -1}, 0, cv::BORDER_REPLICATE);
  return gradient;
}

void refine_pose(FittedShape& fitted, const Patch& patch, const Gradient& gradient, const std::vector<Shape>& shapes,
                 double cell_mm) {
  const Shape& shape = shapes[fitted.pose.shape];
  const double mm = patch.frame.mm_per_pixel, cell_px = cell_mm / mm;
  const cv::Mat &gx = gradient.x, &gy = gradient.y;
  const auto step_at = [&](PatchPoint p, PatchPoint outward) {
    const int c = static_cast<int>(std::floor(p.x)), r = static_cast<int>(std::floor(p.y));
    if (c < 0 || r < 0 || c >= gx.cols || r >= gx.rows || patch.inside.at<uchar>(r, c) == 0) return 0.0;
    const double falling = -(outward.x * static_cast<double>(gx.at<float>(r, c)) + outward.y * static_cast<double>(gy.at<float>(r, c)));
    return std::clamp(falling, 0.0, 0.12);
  };

  const Knobs knobs{std::max(1.0, cell_px)};
  const auto pack = [&](const ShapePose& p) { return knobs.pack(p, shape); };
  const auto unpack = [&](const std::vector<double>& v) { return knobs.unpack(v, fitted.pose, shape); };
  Drawing drawing(shape, mm);
  const std::vector<PatchRing> first = drawing.at(fitted.pose);
  std::vector<int> counts;
  for (const PatchRing& ring : first) counts.push_back(std::clamp(static_cast<int>(perimeter(ring) / 6), 12, 500));

  std::vector<double> v = pack(fitted.pose);
  std::vector<double> misses;
  double support = 0, clear = 0;
  for (int round = 0; round < 12; ++round) {
    // the finder's haze makes ends too long by up to a hand's breadth
    const double reach = std::max(3.0, std::max(2.4 * cell_px, 70 / mm) * std::pow(0.72, round));
    const Rim rim = rim_of(drawing.at(unpack(v)), counts);
    const int n = static_cast<int>(rim.points.size()), k = static_cast<int>(v.size());
    cv::Mat jacobian(n, k, CV_64F), wanted(n, 1, CV_64F, cv::Scalar(0)), weight(n, 1, CV_64F, cv::Scalar(0));
    for (int j = 0; j < k; ++j) {
      std::vector<double> moved = v;
      moved[static_cast<std::size_t>(j)] += 0.1;
      const Rim there = rim_of(drawing.at(unpack(moved)), counts);
      require(there.points.size() == rim.points.size(), "a shape keeps its number of pieces while its proportions change");
      for (int i = 0; i < n; ++i) {
        const auto u = static_cast<std::size_t>(i);
        jacobian.at<double>(i, j) = dot(there.points[u] - rim.points[u], rim.normals[u]) / 0.1;
      }
    }
    misses.clear();
    support = clear = 0;
    for (int i = 0; i < n; ++i) {
      const auto u = static_cast<std::size_t>(i);
      double best = 0.035, where = 0;
      for (double d = -reach; d <= reach; d += 0.5) {
        const double s = step_at(rim.points[u] + rim.normals[u] * d, rim.normals[u]) * (1 - 0.35 * std::abs(d) / reach);
        if (s > best) best = s, where = d;
      }
      if (best <= 0.035) continue;
      wanted.at<double>(i) = where;
      // worn rims lie inside the painted one, seldom outside: steps far inside count less
      const double tukey = std::pow(std::max(0.0, 1 - std::pow(where / (1.1 * reach), 2)), 2);
      weight.at<double>(i) = best * (where < -0.5 * reach ? 0.5 : 1.0) * tukey;
      misses.push_back(std::abs(where));
      support += 1;
      if (std::abs(where) <= 1.5) clear += best / 0.12;
    }
    support /= std::max(1, n);
    clear /= std::max(1, n);
    if (support < 0.1) break;
    cv::Mat weighted = jacobian.clone();
    for (int i = 0; i < n; ++i) weighted.row(i) *= weight.at<double>(i);
    cv::Mat normal = jacobian.t() * weighted, right = weighted.t() * wanted;
    const double trace = cv::trace(normal)[0] / k;
    for (int j = 0; j < k; ++j) {
      // priors: proportions, squeeze and shear stay near the trade's drawing unless the edges insist
      const bool place = j < 4;
      normal.at<double>(j, j) += place ? 1e-4 * trace : 0.006 * trace;
      if (!place) right.at<double>(j) -= 0.0012 * trace * v[static_cast<std::size_t>(j)];
    }
    cv::Mat delta;
    if (!cv::solve(normal, right, delta, cv::DECOMP_CHOLESKY)) break;
    for (int j = 0; j < k; ++j) v[static_cast<std::size_t>(j)] += std::clamp(delta.at<double>(j), -1.5, 1.5);
  }
  fitted.pose = unpack(v);
  fitted.support = support;
  fitted.clear_rim = clear;
  fitted.rings.clear();
  for (const PatchRing& ring : drawing.at(fitted.pose)) {
    GroundRing g;
    for (const PatchPoint& p : ring) g.push_back(patch.frame.ground(p));
    fitted.rings.push_back(std::move(g));
  }
  double scatter = 3;
  if (!misses.empty()) {
    std::nth_element(misses.begin(), misses.begin() + static_cast<std::ptrdiff_t>(misses.size() / 2), misses.end());
    scatter = 1.48 * misses[misses.size() / 2];
  }
  const double looks = std::max(1.0, static_cast<double>(misses.size()) / 4), trust = std::clamp(support / 0.3, 0.0, 1.0);
  fitted.edge_error_mm = trust * mm * std::sqrt(0.4 * 0.4 + scatter * scatter / looks) + (1 - trust) * 0.5 * cell_mm;
}

}  // namespace

void refine_shape(FittedShape& fitted, const Patch& patch, const std::vector<Shape>& shapes, double cell_mm) {
  const cv::Mat map = shrunk(patch.footprint, 160);
  cv::Mat inside;
  cv::resize(patch.inside, inside, map.size(), 0, 0, cv::INTER_NEAREST);
  const double map_mm = patch.frame.mm_per_pixel * std::max(patch.frame.width, patch.frame.height) / std::max(map.cols, map.rows);
  Agreement agreement(map, inside);
  const Gradient gradient = gradient_of(patch.paintness);
  // overlap says where paint is, the rim says how it was drawn: a good drawing has both
  const auto refined = [&](const ShapePose& pose) {
    FittedShape tried = fitted;
    tried.pose = pose;
    tried.kind = shapes[pose.shape].kind;
    refine_pose(tried, patch, gradient, shapes, cell_mm);
    tried.agreement = agreement.of(rings_in_patch(moved_to(tried.pose, patch.frame.mm_per_pixel / map_mm), shapes[tried.pose.shape], map_mm));
    return tried;
  };
  const auto worth = [](const FittedShape& f) { return f.agreement + 0.6 * f.clear_rim; };
  std::vector<FittedShape> all = {refined(fitted.pose)};
  for (const ShapePose& rival : fitted.rivals) all.push_back(refined(rival));
  // the shaft alone has the clearest rim of a worn arrow: a bar that covers less paint is no better drawing of it
  const double first_agreement = all.front().agreement;
  if (is_arrow(fitted.kind))
    std::erase_if(all, [&](const FittedShape& f) { return f.kind == Kind::stop_line && f.agreement < first_agreement - 0.02; });
  std::stable_sort(all.begin(), all.end(), [&](const FittedShape& a, const FittedShape& b) { return worth(a) > worth(b); });
  fitted = all.front();
  for (const FittedShape& other : all) {
    if (other.kind == fitted.kind) continue;
    fitted.runner_up = fitted.agreement - (worth(fitted) - worth(other));
    fitted.runner_up_kind = other.kind;
    break;
  }
}

}  // namespace lotwear
