#include "marking/shape_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

constexpr double kPi = std::numbers::pi;

using PatchRing = Ring<struct PatchFrame>;

std::vector<PatchRing> rings_in_patch(const ShapePose& pose, const Shape& shape, double mm_per_pixel) {
  const double c = std::cos(pose.turn), s = std::sin(pose.turn), stretch = std::exp(pose.squeeze);
  std::vector<PatchRing> rings;
  for (const GroundRing& ring : outline(shape, pose.length_mm / mm_per_pixel, pose.values)) {
    PatchRing placed;
    placed.reserve(ring.size());
    for (const GroundPoint& p : ring) {
      const double x = p.x * stretch + p.y * pose.shear, y = p.y;
      placed.push_back({pose.middle.x + c * x - s * y, pose.middle.y + s * x + c * y});
    }
    rings.push_back(std::move(placed));
  }
  return rings;
}

/// Agreement of filled rings with the map, both as shares: sum of minima over sum of maxima.
class Agreement {
 public:
  explicit Agreement(const cv::Mat& footprint) : map_(footprint), drawn_(footprint.size(), CV_8U) {
    map_.convertTo(map8_, CV_8U, 255);
    total_ = cv::sum(map8_)[0];
  }
  double of(const std::vector<PatchRing>& rings) {
    drawn_.setTo(0);
    for (const PatchRing& ring : rings) {
      points_.clear();
      for (const PatchPoint& p : ring) {
        points_.emplace_back(static_cast<int>(std::lround(std::clamp(p.x - 0.5, -2e3, 2e4) * 16)),
                             static_cast<int>(std::lround(std::clamp(p.y - 0.5, -2e3, 2e4) * 16)));
      }
      cv::fillPoly(drawn_, std::vector<std::vector<cv::Point>>{points_}, cv::Scalar(255), cv::LINE_8, 4);
    }
    cv::min(drawn_, map8_, both_);
    const double both = cv::sum(both_)[0], own = cv::sum(drawn_)[0];
    return both / std::max(1.0, total_ + own - both);
  }

 private:
  cv::Mat map_, map8_, drawn_, both_;
  std::vector<cv::Point> points_;
  double total_ = 0;
};

/// Free numbers of a pose, scaled so that 1 is a sensible step for each.
struct Knobs {
  double cell_px;
  std::vector<double> pack(const ShapePose& p, const Shape& shape) const {
    std::vector<double> v = {p.middle.x / cell_px, p.middle.y / cell_px, p.turn / 0.08, std::log(p.length_mm) / 0.06,
                             p.squeeze / 0.06};
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
    for (std::size_t i = 0; i < shape.proportions.size(); ++i) {
      const Proportion& q = shape.proportions[i];
      p.values[i] = std::clamp(q.usual + v[5 + i] * 0.15 * (q.high - q.low), q.low, q.high);
    }
    return p;
  }
};

/// Pattern search: one knob at a time, shrinking steps. Few knobs, cheap and repeatable; gradients of a raster are noise.
template <class Value>
double climb(std::vector<double>& knobs, Value&& value, int rounds, double step) {
  double best = value(knobs);
  std::vector<double> steps(knobs.size(), step);
  for (int round = 0; round < rounds; ++round) {
    for (std::size_t k = 0; k < knobs.size(); ++k) {
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

struct Moments {
  cv::Point2d middle;
  double angle = 0, long_px = 0, short_px = 0;   // axis of the longer spread; full extents
};

Moments moments_of(const cv::Mat& footprint) {
  Moments m;
  std::vector<cv::Point> points;
  cv::findNonZero(footprint > 0.5F, points);
  if (points.size() < 8) return m;
  const cv::RotatedRect box = cv::minAreaRect(points);
  const bool wide = box.size.width >= box.size.height;
  m.middle = {static_cast<double>(box.center.x) + 0.5, static_cast<double>(box.center.y) + 0.5};
  m.angle = (static_cast<double>(box.angle) + (wide ? 0 : 90)) * kPi / 180;
  m.long_px = static_cast<double>(std::max(box.size.width, box.size.height));
  m.short_px = static_cast<double>(std::min(box.size.width, box.size.height));
  return m;
}

}  // namespace

std::optional<FittedShape> fit_shape(const Patch& patch, const std::vector<Shape>& shapes, double cell_mm) {
  // the finder's map has no detail below a cell: fit on a raster of about two pixels a cell
  const double reduce = std::max(1.0, 0.5 * cell_mm / patch.frame.mm_per_pixel);
  cv::Mat map;
  cv::resize(patch.footprint, map, {std::max(8, static_cast<int>(patch.frame.width / reduce)), std::max(8, static_cast<int>(patch.frame.height / reduce))}, 0, 0, cv::INTER_AREA);
  const double mm = patch.frame.mm_per_pixel * patch.frame.width / map.cols;
  const Moments about = moments_of(map);
  if (about.long_px < 4) return std::nullopt;

  Agreement agreement(map);
  const Knobs knobs{std::max(1.0, cell_mm / mm)};
  struct Candidate { ShapePose pose; double value; };
  std::vector<Candidate> candidates;
  for (std::size_t s = 0; s < shapes.size(); ++s) {
    Candidate best{{}, -1};
    for (int quarter = 0; quarter < 4; ++quarter) {
      ShapePose pose;
      pose.shape = s;
      pose.values = usual_values(shapes[s]);
      pose.turn = about.angle + kPi / 2 * quarter + kPi / 2;
      pose.middle = {about.middle.x, about.middle.y};
      pose.length_mm = (quarter % 2 == 0 ? about.long_px : about.short_px) * mm;
      std::vector<double> v = knobs.pack(pose, shapes[s]);
      const double value = climb(v, [&](const std::vector<double>& k) {
        return agreement.of(rings_in_patch(knobs.unpack(k, pose, shapes[s]), shapes[s], mm));
      }, 3, 1.0);
      if (value > best.value) best = {knobs.unpack(v, pose, shapes[s]), value};
    }
    candidates.push_back(best);
  }
  std::sort(candidates.begin(), candidates.end(), [](const Candidate& a, const Candidate& b) { return a.value > b.value; });
  candidates.resize(std::min<std::size_t>(candidates.size(), 5));
  for (Candidate& c : candidates) {
    const Shape& shape = shapes[c.pose.shape];
    std::vector<double> v = knobs.pack(c.pose, shape);
    c.value = climb(v, [&](const std::vector<double>& k) {
      // proportions far from usual, and a squeeze that the plane does not explain, cost a little: ties go to the plain shape
      double cost = 0;
      for (std::size_t i = 4; i < k.size(); ++i) cost += 0.0006 * k[i] * k[i];
      return agreement.of(rings_in_patch(knobs.unpack(k, c.pose, shape), shape, mm)) - cost;
    }, 22, 0.6);
    c.pose = knobs.unpack(v, c.pose, shape);
  }
  std::sort(candidates.begin(), candidates.end(), [](const Candidate& a, const Candidate& b) { return a.value > b.value; });
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
  const double up = static_cast<double>(patch.frame.width) / map.cols;
  fitted.pose.middle = {fitted.pose.middle.x * up, fitted.pose.middle.y * static_cast<double>(patch.frame.height) / map.rows};
  for (const PatchRing& ring : rings_in_patch(fitted.pose, shapes[fitted.pose.shape], patch.frame.mm_per_pixel)) {
    GroundRing g;
    for (const PatchPoint& p : ring) g.push_back(patch.frame.ground(p));
    fitted.rings.push_back(std::move(g));
  }
  fitted.edge_error_mm = 0.5 * cell_mm;
  return fitted;
}

namespace {

/// Boundary points with outward normals, spaced evenly; `which` tells ring and position so that a changed pose gives the
/// same points again.
struct Rim {
  std::vector<PatchPoint> points;
  std::vector<PatchPoint> normals;
};

Rim rim_of(const std::vector<PatchRing>& rings, const std::vector<std::vector<int>>& counts) {
  Rim rim;
  for (std::size_t r = 0; r < rings.size(); ++r) {
    const PatchRing& ring = rings[r];
    double twice = 0;
    for (std::size_t i = 0; i < ring.size(); ++i) twice += cross(ring[i], ring[(i + 1) % ring.size()]);
    const double outward = twice > 0 ? 1 : -1;
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const PatchPoint a = ring[i], b = ring[(i + 1) % ring.size()], d = b - a;
      const double len = std::max(1e-9, length(d));
      for (int k = 0; k < counts[r][i]; ++k) {
        const double f = (k + 0.5) / counts[r][i];
        rim.points.push_back(a + d * f);
        rim.normals.push_back({outward * d.y / len, -outward * d.x / len});
      }
    }
  }
  return rim;
}

}  // namespace

void refine_shape(FittedShape& fitted, const Patch& patch, const std::vector<Shape>& shapes, double cell_mm) {
  const Shape& shape = shapes[fitted.pose.shape];
  const double mm = patch.frame.mm_per_pixel, cell_px = cell_mm / mm;
  cv::Mat smooth, gx, gy;
  cv::GaussianBlur(patch.paintness, smooth, {0, 0}, 1.5, 1.5, cv::BORDER_REPLICATE);
  const cv::Mat difference = (cv::Mat_<float>(1, 3) << -0.5F, 0.0F, 0.5F);
  cv::filter2D(smooth, gx, CV_32F, difference, {-1, -1}, 0, cv::BORDER_REPLICATE);
  cv::filter2D(smooth, gy, CV_32F, difference.t(), {-1, -1}, 0, cv::BORDER_REPLICATE);
  const auto step_at = [&](PatchPoint p, PatchPoint outward) {
    const int c = static_cast<int>(std::floor(p.x)), r = static_cast<int>(std::floor(p.y));
    if (c < 0 || r < 0 || c >= gx.cols || r >= gx.rows || patch.inside.at<uchar>(r, c) == 0) return 0.0;
    const double falling = -(outward.x * static_cast<double>(gx.at<float>(r, c)) + outward.y * static_cast<double>(gy.at<float>(r, c)));
    return std::clamp(falling, 0.0, 0.12);
  };

  const Knobs knobs{std::max(1.0, cell_px)};
  // shear joins the free numbers here: only edges are sharp enough to tell it from a turn
  const auto pack = [&](const ShapePose& p) {
    std::vector<double> v = knobs.pack(p, shape);
    v.push_back(p.shear / 0.05);
    return v;
  };
  const auto unpack = [&](const std::vector<double>& v) {
    ShapePose p = knobs.unpack({v.begin(), v.end() - 1}, fitted.pose, shape);
    p.shear = v.back() * 0.05;
    return p;
  };
  const std::vector<PatchRing> first = rings_in_patch(fitted.pose, shape, mm);
  std::vector<std::vector<int>> counts;
  for (const PatchRing& ring : first) {
    std::vector<int> per_edge;
    for (std::size_t i = 0; i < ring.size(); ++i) {
      per_edge.push_back(std::clamp(static_cast<int>(length(ring[(i + 1) % ring.size()] - ring[i]) / 5), 1, 80));
    }
    counts.push_back(std::move(per_edge));
  }

  std::vector<double> v = pack(fitted.pose);
  std::vector<double> misses;
  double support = 0;
  for (int round = 0; round < 9; ++round) {
    const double reach = std::max(3.0, (1.6 * cell_px) * std::pow(0.72, round));
    const Rim rim = rim_of(rings_in_patch(unpack(v), shape, mm), counts);
    const int n = static_cast<int>(rim.points.size()), k = static_cast<int>(v.size());
    cv::Mat jacobian(n, k, CV_64F), wanted(n, 1, CV_64F), weight(n, 1, CV_64F, cv::Scalar(0));
    for (int j = 0; j < k; ++j) {
      std::vector<double> moved = v;
      moved[static_cast<std::size_t>(j)] += 0.1;
      const Rim there = rim_of(rings_in_patch(unpack(moved), shape, mm), counts);
      for (int i = 0; i < n; ++i) {
        const auto u = static_cast<std::size_t>(i);
        jacobian.at<double>(i, j) = dot(there.points[u] - rim.points[u], rim.normals[u]) / 0.1;
      }
    }
    misses.clear();
    support = 0;
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
    }
    support /= std::max(1, n);
    if (support < 0.1) break;
    cv::Mat weighted = jacobian.clone();
    for (int i = 0; i < n; ++i) weighted.row(i) *= weight.at<double>(i);
    cv::Mat normal = jacobian.t() * weighted, right = weighted.t() * wanted;
    const double trace = cv::trace(normal)[0] / k;
    for (int j = 0; j < k; ++j) {
      // priors: proportions, squeeze and shear stay near the trade's drawing unless the edges insist
      const bool place = j < 4;
      normal.at<double>(j, j) += place ? 1e-4 * trace : 0.02 * trace;
      if (!place) right.at<double>(j) -= 0.004 * trace * v[static_cast<std::size_t>(j)];
    }
    cv::Mat delta;
    if (!cv::solve(normal, right, delta, cv::DECOMP_CHOLESKY)) break;
    for (int j = 0; j < k; ++j) v[static_cast<std::size_t>(j)] += std::clamp(delta.at<double>(j), -1.5, 1.5);
  }
  fitted.pose = unpack(v);
  fitted.support = support;
  fitted.rings.clear();
  for (const PatchRing& ring : rings_in_patch(fitted.pose, shape, mm)) {
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

}  // namespace lotwear
