#include "marking/bars.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

namespace lotwear {

bool same_paint(const PaintContrast& a, const PaintContrast& b) {
  // direction of the colour difference from the pavement: survives shade and wear, tells yellow from white from blue
  double aa = 0, bb = 0, ab = 0;
  for (int i = 0; i < 3; ++i) {
    const double da = a.paint[i] - a.pavement[i], db = b.paint[i] - b.pavement[i];
    aa += da * da, bb += db * db, ab += da * db;
  }
  return ab > 0.85 * std::sqrt(aa * bb);
}

namespace {

/// A piece seen from above, as a mask.
struct Plan {
  cv::Mat mask;            ///< CV_8U
  PatchPlace place;
};

Plan plan_of(const Piece& piece, const PaintMap& paint, const Ground& ground) {
  // ground box of the piece from its cells' corners
  double x0 = 1e12, y0 = 1e12, x1 = -1e12, y1 = -1e12;
  for (int r = 0; r < piece.box.height; ++r) {
    const uchar* row = piece.mask.ptr<uchar>(r);
    for (int c = 0; c < piece.box.width; ++c) {
      if (row[c] == 0) continue;
      const GroundPoint g = ground.ground_from_image({(piece.box.x + c + 0.5) * paint.photo_per_cell,
                                                      (piece.box.y + r + 0.5) * paint.photo_per_cell});
      x0 = std::min(x0, g.x), y0 = std::min(y0, g.y), x1 = std::max(x1, g.x), y1 = std::max(y1, g.y);
    }
  }
  const double margin = 2 * piece.cell_mm;
  PatchPlace place;
  place.mm_per_pixel = std::max({piece.cell_mm / 2, 4.0, (x1 - x0 + 2 * margin) / 700, (y1 - y0 + 2 * margin) / 700});
  place.origin = {x0 - margin, y0 - margin};
  place.width = static_cast<int>((x1 - x0 + 2 * margin) / place.mm_per_pixel) + 1;
  place.height = static_cast<int>((y1 - y0 + 2 * margin) / place.mm_per_pixel) + 1;
  // only this piece's cells: neighbours of another kind may lie in the same box
  cv::Mat own(paint.footprint.size(), CV_32F, cv::Scalar(0));
  cv::Mat grown;
  cv::dilate(piece.mask, grown, cv::Mat());
  paint.footprint(piece.box).copyTo(own(piece.box), grown);
  const cv::Mat share = map_in_patch(own, paint.photo_per_cell, ground, place);
  return {share > 0.5, place};
}

Bar bar_from_points(const std::vector<cv::Point>& points, const PatchPlace& place) {
  cv::Point2d mean(0, 0);
  for (const auto& p : points) mean += cv::Point2d(p.x + 0.5, p.y + 0.5);
  mean *= 1.0 / static_cast<double>(points.size());
  double xx = 0, xy = 0, yy = 0;
  for (const auto& p : points) {
    const double dx = p.x + 0.5 - mean.x, dy = p.y + 0.5 - mean.y;
    xx += dx * dx, xy += dx * dy, yy += dy * dy;
  }
  const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
  const cv::Point2d axis(std::cos(angle), std::sin(angle));
  std::vector<double> along;
  along.reserve(points.size());
  for (const auto& p : points) along.push_back((p.x + 0.5 - mean.x) * axis.x + (p.y + 0.5 - mean.y) * axis.y);
  std::sort(along.begin(), along.end());
  // the ends by quantiles that a few stray cells cannot move, stretched back to the full length of an even bar
  const auto quantile = [&](double q) { return along[static_cast<std::size_t>(q * static_cast<double>(along.size() - 1))]; };
  const double low = quantile(0.02), high = quantile(0.98), stretch = (high - low) / 0.96 * 0.02;
  const cv::Point2d a = mean + axis * (low - stretch), b = mean + axis * (high + stretch);
  Bar bar;
  bar.start = place.ground({a.x, a.y});
  bar.end = place.ground({b.x, b.y});
  bar.width_mm = static_cast<double>(points.size()) * place.mm_per_pixel * place.mm_per_pixel / std::max(bar.length(), 1e-9);
  bar.filled = 1;
  return bar;
}

std::vector<cv::Point> points_of(const cv::Mat& mask) {
  std::vector<cv::Point> points;
  cv::findNonZero(mask, points);
  return points;
}

/// Longest straight run of the mask through every pixel, and its direction (index of kDirections).
constexpr int kDirections = 24;
struct Runs {
  cv::Mat longest;    ///< CV_32F, pixels
  cv::Mat direction;  ///< CV_8U
};

Runs longest_runs(const cv::Mat& mask) {
  Runs runs{cv::Mat(mask.size(), CV_32F, cv::Scalar(0)), cv::Mat(mask.size(), CV_8U, cv::Scalar(0))};
  const int side = static_cast<int>(std::ceil(std::hypot(mask.cols, mask.rows))) + 2;
  for (int k = 0; k < kDirections; ++k) {
    const cv::Mat turn = [&] {
      cv::Mat m = cv::getRotationMatrix2D(cv::Point2f(static_cast<float>(mask.cols) / 2, static_cast<float>(mask.rows) / 2), 180.0 * k / kDirections, 1);
      m.at<double>(0, 2) += side / 2.0 - mask.cols / 2.0;
      m.at<double>(1, 2) += side / 2.0 - mask.rows / 2.0;
      return m;
    }();
    cv::Mat turned, length(side, side, CV_32F, cv::Scalar(0)), back;
    cv::warpAffine(mask, turned, turn, {side, side}, cv::INTER_NEAREST);
    for (int r = 0; r < side; ++r) {
      const uchar* row = turned.ptr<uchar>(r);
      auto* out = length.ptr<float>(r);
      for (int c = 0; c < side;) {
        if (row[c] == 0) { ++c; continue; }
        int e = c;
        while (e < side && row[e] != 0) ++e;
        std::fill(out + c, out + e, static_cast<float>(e - c));
        c = e;
      }
    }
    cv::warpAffine(length, back, turn, mask.size(), cv::INTER_NEAREST | cv::WARP_INVERSE_MAP);
    const cv::Mat better = back > runs.longest;
    back.copyTo(runs.longest, better);
    runs.direction.setTo(k, better);
  }
  runs.longest.setTo(0, mask == 0);
  return runs;
}

/// Takes crossing and touching stripes apart, longest first.
std::vector<Bar> split(const cv::Mat& mask, const PatchPlace& place) {
  const Runs runs = longest_runs(mask);
  cv::Mat left = mask.clone();
  const int whole = cv::countNonZero(mask);
  std::vector<Bar> bars;
  while (bars.size() < 60 && cv::countNonZero(left) > 0.04 * whole) {
    cv::Mat run = runs.longest.clone();
    run.setTo(0, left == 0);
    double longest = 0;
    cv::Point seed;
    cv::minMaxLoc(run, nullptr, &longest, nullptr, &seed);
    if (longest < 6) break;
    const int k = runs.direction.at<uchar>(seed);
    cv::Mat similar(mask.size(), CV_8U, cv::Scalar(0));
    for (int d = -1; d <= 1; ++d) similar |= runs.direction == (k + d + kDirections) % kDirections;
    similar &= left;
    cv::Mat ids;
    cv::connectedComponents(similar, ids, 8, CV_32S);
    const cv::Mat cluster = ids == ids.at<int>(seed);
    const std::vector<cv::Point> points = points_of(cluster);
    left.setTo(0, cluster);
    if (points.size() < 12) continue;
    const Bar bar = bar_from_points(points, place);
    // crumbs at junctions are wider than long
    if (bar.length() < 1.6 * bar.width_mm && !bars.empty()) continue;
    bars.push_back(bar);
    // what the bar covers is explained, whichever direction its pixels preferred
    const PatchPoint a = place.patch(bar.start), b = place.patch(bar.end);
    cv::line(left, {static_cast<int>(a.x), static_cast<int>(a.y)}, {static_cast<int>(b.x), static_cast<int>(b.y)},
             cv::Scalar(0), std::max(1, static_cast<int>(std::lround(1.1 * bar.width_mm / place.mm_per_pixel))));
  }
  return bars;
}

double agreement_of(const std::vector<Bar>& bars, const cv::Mat& mask, const PatchPlace& place) {
  cv::Mat drawn(mask.size(), CV_8U, cv::Scalar(0));
  for (const Bar& bar : bars) {
    const GroundPoint u = bar.along(), v = GroundPoint{-u.y, u.x} * (bar.width_mm / 2);
    std::vector<cv::Point> corners;
    for (const GroundPoint& g : {bar.start - v, bar.end - v, bar.end + v, bar.start + v}) {
      const PatchPoint p = place.patch(g);
      corners.emplace_back(static_cast<int>(std::lround((p.x - 0.5) * 16)), static_cast<int>(std::lround((p.y - 0.5) * 16)));
    }
    cv::fillPoly(drawn, std::vector<std::vector<cv::Point>>{corners}, cv::Scalar(255), cv::LINE_8, 4);
  }
  return static_cast<double>(cv::countNonZero(drawn & mask)) / std::max(1, cv::countNonZero(drawn | mask));
}

double angle_between(const Bar& a, const Bar& b) {
  return std::asin(std::min(1.0, std::abs(cross(a.along(), b.along())))) * 180 / std::numbers::pi;
}

bool one_stripe(const Bar& a, const Bar& b) {
  if (a.width_mm > 1.6 * b.width_mm || b.width_mm > 1.6 * a.width_mm) return false;
  const Bar& big = a.length() >= b.length() ? a : b;
  const Bar& small = a.length() >= b.length() ? b : a;
  // a short remnant's direction is uncertain by its width over its length
  const double slack = 3.0 + 25.0 * std::min(1.0, small.width_mm / std::max(small.length(), 1.0));
  if (angle_between(a, b) > slack || !same_paint(a.contrast, b.contrast)) return false;
  const GroundPoint u = big.along();
  const auto off = [&](GroundPoint p) { return std::abs(cross(u, p - big.start)); };
  const double aside = std::max(off(small.start), off(small.end));
  const double s0 = dot(u, small.start - big.start), s1 = dot(u, small.end - big.start), lb = big.length();
  const double near = std::min(s0, s1), far = std::max(s0, s1);
  const double gap = std::max({0.0, near - lb, -far});
  if (aside > 0.5 * big.width_mm + 0.02 * gap + small.cell_mm) return false;
  // overlap along the axis: the same stripe found twice
  return gap <= std::max(400.0, 0.5 * (a.length() + b.length())) && gap < 2500;
}

Bar joined(const Bar& a, const Bar& b) {
  const Bar& big = a.length() >= b.length() ? a : b;
  const GroundPoint u = big.along();
  double low = 1e12, high = -1e12;
  bool low_cut = false, high_cut = false;
  for (const Bar* bar : {&a, &b}) {
    for (const auto& [p, cut] : {std::pair{bar->start, bar->start_cut}, std::pair{bar->end, bar->end_cut}}) {
      const double s = dot(u, p - big.start);
      if (s < low) low = s, low_cut = cut;
      if (s > high) high = s, high_cut = cut;
    }
  }
  const double la = a.length(), lb = b.length();
  Bar whole = big;
  // direction from the far ends: longer lever than either part
  const auto middle_at = [&](double s) {
    const Bar* owner = nullptr;
    double best = 1e12;
    for (const Bar* bar : {&a, &b}) {
      for (const GroundPoint p : {bar->start, bar->end}) {
        const double d = std::abs(dot(u, p - big.start) - s);
        if (d < best) best = d, owner = bar;
      }
    }
    const GroundPoint v = owner->along() * (dot(owner->along(), u) < 0 ? -1.0 : 1.0);
    const double t = (s - dot(u, owner->start - big.start)) / std::max(dot(v, u), 0.5);
    return owner->start + v * t;
  };
  whole.start = middle_at(low);
  whole.end = middle_at(high);
  whole.start_cut = low_cut;
  whole.end_cut = high_cut;
  whole.width_mm = (a.width_mm * la + b.width_mm * lb) / (la + lb);
  whole.filled = std::min(1.0, (a.filled * la + b.filled * lb) / std::max(whole.length(), 1.0));
  whole.cell_mm = std::max(a.cell_mm, b.cell_mm);
  for (int k = 0; k < kFinderKinds; ++k) whole.votes[k] = (a.votes[k] * la + b.votes[k] * lb) / (la + lb);
  return whole;
}

}  // namespace

PieceBars bars_of(const Piece& piece, const PaintMap& paint, const Ground& ground) {
  const Plan plan = plan_of(piece, paint, ground);
  const std::vector<cv::Point> points = points_of(plan.mask);
  if (points.size() < 12) return {};
  std::vector<Bar> bars;
  const Bar whole = bar_from_points(points, plan.place);
  const cv::RotatedRect box = cv::minAreaRect(points);
  const double filled = static_cast<double>(points.size()) /
                        std::max(1.0, (static_cast<double>(box.size.width) + 1) * (static_cast<double>(box.size.height) + 1));
  if (filled > 0.78 || whole.length() < 1.5 * whole.width_mm) {
    bars.push_back(whole);
  } else {
    bars = split(plan.mask, plan.place);
  }
  const double agreement = agreement_of(bars, plan.mask, plan.place);
  const double w = paint.footprint.cols, h = paint.footprint.rows;
  for (Bar& bar : bars) {
    bar.votes = piece.votes;
    bar.contrast = piece.contrast;
    const auto cell_of = [&](GroundPoint g) {
      const ImagePoint p = ground.image_from_ground(g);
      return cv::Point2d(p.x / paint.photo_per_cell, p.y / paint.photo_per_cell);
    };
    const auto leaves = [&](GroundPoint g) {
      const cv::Point2d c = cell_of(g);
      return c.x < 3 || c.y < 3 || c.x > w - 3 || c.y > h - 3;
    };
    bar.start_cut = leaves(bar.start);
    bar.end_cut = leaves(bar.end);
    const ImagePoint mid = ground.image_from_ground((bar.start + bar.end) * 0.5);
    const GroundPixel pixel = ground_pixel(ground, mid);
    bar.cell_mm = std::max(pixel.across_mm, pixel.along_mm) * paint.photo_per_cell;
  }
  return {std::move(bars), agreement};
}

std::vector<Bar> join_bars(std::vector<Bar> bars) {
  for (bool again = true; again;) {
    again = false;
    for (std::size_t i = 0; i < bars.size() && !again; ++i) {
      for (std::size_t j = i + 1; j < bars.size() && !again; ++j) {
        if (!one_stripe(bars[i], bars[j])) continue;
        bars[i] = joined(bars[i], bars[j]);
        bars.erase(bars.begin() + static_cast<std::ptrdiff_t>(j));
        again = true;
      }
    }
  }
  return bars;
}

}  // namespace lotwear
