// What a photo of a lot shows: one marking that the photographer meant, and what happens to lie beside it. The camera
// is drawn until it sees enough of the first.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "rendering/draw_parts.hpp"

namespace lotwear::rendering {

namespace {

/// What is taken already, on a coarse grid.
class Occupied {
 public:
  Occupied() : grid_(cv::Mat::zeros(kCells, kCells, CV_8U)) {}
  bool free(const std::vector<GroundRing>& rings) const {
    cv::Mat mask = cv::Mat::zeros(kCells, kCells, CV_8U);
    draw(mask, rings, 1);
    return cv::countNonZero(mask & grid_) == 0;
  }
  void take(const std::vector<GroundRing>& rings) { draw(grid_, rings, 5); }

 private:
  static constexpr int kCells = 1200;
  static constexpr double kCell = 25;
  static void draw(cv::Mat& mask, const std::vector<GroundRing>& rings, int border) {
    for (const GroundRing& ring : rings) {
      std::vector<cv::Point> points;
      for (const GroundPoint& p : ring) {
        const auto cell = [](double v) { return static_cast<int>(std::clamp(v / kCell + kCells / 2, -2e4, 2e4)); };
        points.emplace_back(cell(p.x), cell(p.y));
      }
      cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, 255);
      cv::polylines(mask, std::vector<std::vector<cv::Point>>{points}, true, 255, border);
    }
  }
  cv::Mat grid_;
};

Age draw_age(Random& random, Age lot) {
  if (random.chance(0.4)) return lot;
  return static_cast<Age>(random.weighted({0.14, 0.30, 0.24, 0.14, 0.07, 0.11}));
}

std::vector<GroundRing> field_around(Random& random, const std::vector<GroundRing>& symbol, double turn) {
  std::vector<GroundRing> upright = placed(symbol, -turn, {0, 0});
  GroundPoint low{1e9, 1e9}, high{-1e9, -1e9};
  for (const GroundRing& ring : upright) {
    for (const GroundPoint& p : ring) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
  }
  const double tall = high.y - low.y, margin = tall * random.between(0.08, 0.25);
  const double half = std::max(high.x - low.x, tall) / 2 + margin;
  const GroundPoint middle = (low + high) * 0.5;
  const GroundRing square = {{middle.x - half, middle.y - half},
                             {middle.x + half, middle.y - half},
                             {middle.x + half, middle.y + half},
                             {middle.x - half, middle.y + half}};
  return placed({square}, turn, {0, 0});
}

struct View {
  CameraPlan camera;
  double turn = 0;
  GroundPoint at;
  double share = -1;
};

/// A camera that sees the group's first marking whole, or nearly.
View find_view(Random& random, Tier tier, double megapixels, const Group& group) {
  View best;
  const double enough = random.chance(0.85) ? 0.985 : random.between(0.62, 0.9);
  const std::vector<GroundPoint> probe = points_inside(group[0].rings, 150);
  for (int round = 0; round < 160; ++round) {
    View v;
    v.camera = draw_camera(random, tier, megapixels);
    const Camera camera(v.camera);
    const double turns[] = {0, std::numbers::pi / 2, std::numbers::pi, -std::numbers::pi / 2};
    v.turn = turns[random.weighted({0.4, 0.2, 0.2, 0.2})] + 0.22 * random.normal();
    const auto middle =
        camera.ground_at({v.camera.width * random.between(0.36, 0.64), v.camera.height * random.between(0.4, 0.66)});
    if (!middle || length(*middle) > 6000) continue;
    v.at = *middle;
    const double c = std::cos(v.turn), s = std::sin(v.turn);
    double seen = 0;
    double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
    for (const GroundPoint& p : probe) {
      const auto image = camera.see({v.at.x + c * p.x - s * p.y, v.at.y + s * p.x + c * p.y});
      if (!image) continue;
      if (image->x < 0 || image->y < 0 || image->x > v.camera.width || image->y > v.camera.height) continue;
      seen += 1;
      left = std::min(left, image->x), right = std::max(right, image->x);
      top = std::min(top, image->y), bottom = std::max(bottom, image->y);
    }
    v.share = seen / static_cast<double>(probe.size());
    const double size = std::hypot(right - left, bottom - top) / std::hypot(v.camera.width, v.camera.height);
    if (size < 0.25) continue;
    // too little of it is worse than a little more than wanted
    const double miss = v.share >= enough ? (enough < 0.95 ? v.share - enough : 0) : 2 * (enough - v.share);
    const double best_miss = best.share < 0         ? 9
                             : best.share >= enough ? (enough < 0.95 ? best.share - enough : 0)
                                                    : 2 * (enough - best.share);
    if (miss < best_miss) best = v;
    if (miss < 0.03) break;
  }
  return best;
}

}  // namespace

namespace {

constexpr double kFarthest = 11000;  // millimetres; the lot itself goes on

class Painter {
 public:
  Painter(Random& random, Tier tier, const Request& request, ScenePlan& scene)
      : random_(random), tier_(tier), request_(request), scene_(scene) {
    lot_ = static_cast<Age>(random.weighted({0.14, 0.30, 0.24, 0.14, 0.07, 0.11}));
  }

  /// Adds the item where it is free and in view; says whether it did.
  bool add(const Item& item, double turn, GroundPoint at, double least_share) {
    MarkingPlan m;
    m.kind = item.kind;
    m.shape = item.shape;
    m.length_mm = item.length_mm;
    m.rings = placed(item.rings, turn, at);
    for (const GroundRing& ring : m.rings) {
      for (const GroundPoint& p : ring) {
        if (length(p) > kFarthest) return false;
      }
    }
    const Camera camera(scene_.camera);
    if (share_in_view(m.rings, camera) < least_share || scene_.markings.size() >= 8 || !occupied_.free(m.rings))
      return false;
    m.coat = draw_coat(random_, item.colour);
    const Age drawn = draw_age(random_, lot_);
    age_marking(random_, tier_, scene_.markings.empty() ? request_.age.value_or(drawn) : drawn, m);
    m.id = fmt::format("T{}", ++count_);
    if (item.field_below && !add_field(m, turn)) return false;
    occupied_.take(m.rings);
    scene_.markings.push_back(m);
    return true;
  }

 private:
  bool add_field(MarkingPlan& m, double turn) {
    MarkingPlan field = m;
    field.rings = field_around(random_, m.rings, turn);
    if (!occupied_.free(field.rings)) return false;
    field.is_field = true;
    field.shape = "field";
    field.coat = draw_coat(random_, Colour::blue);
    field.older.reset();
    field.id = m.id + "-field";
    m.older = field.coat, m.on_field = true;
    m.older_shift = {};
    m.older_turn = 0;
    if (m.wear.between_coats == 0) m.wear.between_coats = random_.chance(0.3) ? random_.between(0.1, 0.9) : 0;
    occupied_.take(field.rings);
    scene_.markings.push_back(field);
    return true;
  }

  Random& random_;
  Tier tier_;
  const Request& request_;
  ScenePlan& scene_;
  Occupied occupied_;
  Age lot_ = Age::fresh;
  int count_ = 0;
};

}  // namespace

void draw_markings(Random& random, Tier tier, const std::vector<Shape>& shapes, const Request& request,
                   ScenePlan& scene) {
  const double megapixels = static_cast<double>(scene.camera.width) * scene.camera.height / 1e6;
  Group group;
  View view;
  for (int round = 0; round < (request.whole ? 40 : 12) && view.share < (request.whole ? 0.985 : 0.6); ++round) {
    group = draw_group(random, shapes, request.wanted);
    view = find_view(random, tier, megapixels, group);
  }
  scene.camera = view.camera;
  Painter painter(random, tier, request, scene);
  for (const Item& item : group)
    painter.add(item, view.turn, view.at, 0.08);
  // whatever else the lot has there
  const int strays = request.alone ? 0 : random.chance(0.55) ? random.whole(1, 3) : 0;
  for (int i = 0, tries = 0; i < strays && tries < 12; ++tries) {
    const Colour colour = random.chance(0.8) ? group[0].colour : random.chance(0.5) ? Colour::white : Colour::yellow;
    const Item stray = draw_stray(random, shapes, colour);
    const GroundPoint at{view.at.x + random.between(-3200, 3200), view.at.y + random.between(-3800, 1500)};
    if (painter.add(stray, view.turn + 0.03 * random.normal(), at, 0.3)) ++i;
  }
}

}  // namespace lotwear::rendering
