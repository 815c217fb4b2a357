// What a photo of a lot shows: one marking that the photographer meant, and what happens to lie beside it. The camera
// is drawn until it sees enough of the first.

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/shapes_parts.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/letters.hpp"

namespace lotwear::rendering {

namespace {

constexpr double kInch = 25.4;

/// A marking in the frame of its group: the first of a group lies at (0, 0).
struct Item {
  Kind kind = Kind::other;
  std::string shape;
  std::vector<GroundRing> rings;
  double length_mm = 0;
  Colour colour = Colour::white;
  bool field_below = false;
};
using Group = std::vector<Item>;

class Draughtsman {
 public:
  Draughtsman(Random& random, const std::vector<Shape>& shapes) : random_(random), shapes_(shapes) {
    lot_colour_ = random.chance(0.55) ? Colour::white : Colour::yellow;
  }

  Group group() {
    switch (random_.weighted({24, 8, 16, 11, 10, 16, 6, 5, 6, 2})) {
      case 0:
        return arrow_and_lines();
      case 1:
        return two_arrows();
      case 2:
        return stall_lines();
      case 3:
        return stop_and_arrow();
      case 4:
        return crosswalk();
      case 5:
        return accessible_stall();
      case 6:
        return aisle();
      case 7:
        return yield();
      case 8:
        return words();
      default:
        return curb();
    }
  }

  Item line(GroundPoint middle, double turn, double length_mm, double width_mm) {
    const Shape& shape = shape_named(shapes_, "line");
    return {Kind::line, shape.name,  placed(outline(shape, length_mm, {width_mm / length_mm}), turn, middle),
            length_mm,  lot_colour_, false};
  }
  double stripe() {
    return random_.chance(0.7) ? 4 * kInch * random_.between(0.94, 1.06) : random_.between(4, 6) * kInch;
  }

  Item arrow(GroundPoint middle, double turn) {
    const std::vector<std::string> names = {"arrow-straight",
                                            "arrow-straight",
                                            "arrow-straight",
                                            "arrow-left-square",
                                            "arrow-left-curved",
                                            "arrow-right-square",
                                            "arrow-right-curved",
                                            "arrow-straight-left-square",
                                            "arrow-straight-left-curved",
                                            "arrow-straight-right-square",
                                            "arrow-straight-right-curved",
                                            "arrow-left-right-square",
                                            "arrow-left-right-curved"};
    const Shape& shape = shape_named(shapes_, random_.pick(names));
    const double length_mm = random_.chance(0.62) ? random_.between(std::max(1000.0, shape.low_length_mm), 1900)
                                                  : random_.between(1900, shape.usual_length_mm * 1.03);
    const Colour colour = random_.chance(0.8) ? lot_colour_ : random_.chance(0.5) ? Colour::white : Colour::yellow;
    return {shape.kind, shape.name, placed(outline(shape, length_mm, draw_proportions(random_, shape)), turn, middle),
            length_mm,  colour,     false};
  }

 private:
  Item bar(Kind kind, const std::string& name, GroundPoint middle, double turn, double length_mm, double width_mm,
           Colour colour) {
    const Shape& shape = shape_named(shapes_, name);
    return {kind,      name,   placed(outline(shape, length_mm, {width_mm / length_mm}), turn, middle),
            length_mm, colour, false};
  }
  Item shaped(const std::string& name, GroundPoint middle, double turn, double length_mm,
              const std::vector<double>& values, Colour colour) {
    const Shape& shape = shape_named(shapes_, name);
    return {shape.kind, name, placed(outline(shape, length_mm, values), turn, middle), length_mm, colour, false};
  }

  Group arrow_and_lines() {
    Group g = {arrow({0, 0}, 0)};
    if (random_.chance(0.45))
      g.push_back(line({random_.sign() * random_.between(900, 1900), random_.between(-800, 800)}, 0,
                       random_.between(2400, 5500), stripe()));
    if (random_.chance(0.3))
      g.push_back(line({random_.between(-800, 800), -random_.between(1900, 2800)}, std::numbers::pi / 2,
                       random_.between(1500, 4000), stripe()));
    return g;
  }
  Group two_arrows() {
    Group g = {arrow({0, 0}, 0)};
    g.push_back(
        arrow({random_.between(1300, 2600), random_.between(-600, 600)}, random_.chance(0.6) ? 0 : std::numbers::pi));
    if (random_.chance(0.5))
      g.push_back(line({random_.between(700, 1000), 0}, 0, random_.between(2400, 5500), stripe()));
    return g;
  }
  Group stall_lines() {
    const double width = stripe(), apart = random_.between(2300, 2900), length_mm = random_.between(1800, 5600);
    const double slant = random_.chance(0.3) ? random_.sign() * random_.between(0.3, 0.8) : 0;
    Group g;
    for (int i = 0; i < random_.whole(1, 4); ++i) {
      const double at = (i % 2 == 0 ? 1 : -1) * ((i + 1) / 2) * apart;
      g.push_back(line({at, 0}, slant, length_mm, width * random_.between(0.97, 1.03)));
    }
    if (random_.chance(0.25))
      g.push_back(line({0, -length_mm / 2 * std::cos(slant) - random_.between(180, 500)}, std::numbers::pi / 2,
                       random_.between(2500, 6000), width));
    if (random_.chance(0.15)) g[0].colour = Colour::blue;
    return g;
  }
  Group stop_and_arrow() {
    Group g = {bar(Kind::stop_line, "stop-line", {0, 0}, std::numbers::pi / 2, random_.between(1800, 3900),
                   random_.between(12, 24) * kInch, Colour::white)};
    if (random_.chance(0.55)) {
      Item pointing = arrow({random_.between(-300, 300), 0}, 0);
      double low = 1e9;
      for (const GroundRing& ring : pointing.rings)
        for (const GroundPoint& p : ring)
          low = std::min(low, p.y);
      pointing.rings = placed(pointing.rings, 0, {0, 330 + random_.between(150, 900) - low});
      g.push_back(pointing);
    } else if (random_.chance(0.6)) {
      g.push_back(written("STOP", {random_.between(-200, 200), random_.between(1000, 1500)}));
    }
    if (random_.chance(0.4))
      g.push_back(line({random_.sign() * random_.between(1900, 2400), random_.between(600, 1600)}, 0,
                       random_.between(2000, 4500), stripe()));
    return g;
  }
  Group crosswalk() {
    const Colour colour = random_.chance(0.85) ? Colour::white : Colour::yellow;
    Group g;
    switch (random_.whole(0, 2)) {
      case 0: {
        const double length_mm = random_.between(1500, 2800), width = random_.between(8, 24) * kInch;
        g.push_back(shaped("crosswalk-bars", {0, 0}, 0, length_mm,
                           {width / length_mm, width * random_.between(0.8, 1.8) / length_mm,
                            static_cast<double>(random_.whole(3, 8))},
                           colour));
        break;
      }
      case 1: {
        const double length_mm = random_.between(1700, 2600), width = random_.between(8, 20) * kInch;
        g.push_back(shaped("crosswalk-ladder", {0, 0}, 0, length_mm,
                           {random_.between(5, 10) * kInch / length_mm, width / length_mm,
                            width * random_.between(1.0, 1.8) / length_mm, static_cast<double>(random_.whole(3, 6))},
                           colour));
        break;
      }
      default: {
        const double length_mm = random_.between(1500, 2400);
        g.push_back(shaped("crosswalk-lines", {0, 0}, 0, length_mm,
                           {random_.between(6, 13) * kInch / length_mm, random_.between(2000, 4200) / length_mm},
                           colour));
      }
    }
    if (random_.chance(0.35)) {
      g.push_back(bar(Kind::stop_line, "stop-line", {0, 1400 + random_.between(600, 1300)}, std::numbers::pi / 2,
                      random_.between(1800, 3600), random_.between(12, 20) * kInch, Colour::white));
    }
    return g;
  }
  Item symbol() {
    const Shape& shape = shape_named(shapes_, random_.chance(0.75) ? "accessible-seated" : "accessible-leaning");
    const double length_mm = random_.chance(0.5) ? 41 * kInch : random_.between(24, 50) * kInch;
    Item item{shape.kind, shape.name,    placed(outline(shape, length_mm, draw_proportions(random_, shape)), 0, {0, 0}),
              length_mm,  Colour::white, false};
    const std::size_t style = random_.weighted({0.4, 0.25, 0.25, 0.1});
    item.field_below = style == 0;
    item.colour = style == 1 ? Colour::blue : style == 3 ? Colour::yellow : Colour::white;
    if (random_.chance(0.12)) item.rings = mirrored(item.rings);
    return item;
  }
  static std::vector<GroundRing> mirrored(std::vector<GroundRing> rings) {
    for (GroundRing& ring : rings)
      ring = shape_parts::mirrored(ring);
    return rings;
  }
  Group accessible_stall() {
    Group g = {symbol()};
    const Colour lines = random_.chance(0.4) ? Colour::blue : lot_colour_;
    const double side = random_.sign(), half = random_.between(1200, 1450);
    if (random_.chance(0.75)) {
      g.push_back(line({-side * half, random_.between(-700, 400)}, 0, random_.between(2800, 5400), stripe()));
      g.back().colour = lines;
    }
    if (random_.chance(0.6)) {
      Item area = hatch(random_.between(1300, 1700), random_.between(2600, 5000));
      area.rings = placed(area.rings, 0, {side * (half + random_.between(750, 950)), random_.between(-700, 400)});
      area.colour = lines;
      g.push_back(area);
    }
    if (random_.chance(0.12)) g.push_back(written("NO/PARKING", {side * 2 * half, 1600}));
    return g;
  }
  Item hatch(double width_mm, double length_mm) {
    const double stripe_mm = stripe();
    Item item = shaped("hatching", {0, 0}, 0, length_mm,
                       {width_mm / length_mm, random_.chance(0.85) ? stripe_mm / length_mm : 0.0, stripe_mm / length_mm,
                        random_.between(24, 40) * kInch / length_mm, random_.sign() * random_.between(30, 60)},
                       lot_colour_);
    return item;
  }
  Group aisle() {
    Group g = {hatch(random_.between(1100, 2200), random_.between(1700, 3800))};
    if (random_.chance(0.4))
      g.push_back(line({random_.sign() * random_.between(2300, 3200), 0}, 0, random_.between(2500, 5000), stripe()));
    return g;
  }
  Group yield() {
    const double height = random_.between(18, 34) * kInch;
    Group g = {shaped(
        "yield-line", {0, 0}, 0, height,
        {random_.between(0.6, 0.72), random_.between(3, 12) * kInch / height, static_cast<double>(random_.whole(3, 7))},
        Colour::white)};
    if (random_.chance(0.5)) g.push_back(arrow({random_.between(-400, 400), random_.between(2000, 2600)}, 0));
    if (random_.chance(0.4))
      g.push_back(line({random_.sign() * random_.between(1900, 2600), random_.between(0, 1200)}, 0,
                       random_.between(2400, 4500), stripe()));
    return g;
  }
  Item written(const std::string& text, GroundPoint middle) {
    const bool tall = text == "STOP" || text == "ONLY" || text == "SLOW";
    const double height = tall ? random_.between(500, 1700) : random_.between(300, 650);
    const double share = tall ? random_.between(0.24, 0.5) : random_.between(0.5, 0.75);
    Item item{Kind::legend,
              text,
              legend(text, height, share, std::max(40.0, height * share * random_.between(0.2, 0.28))),
              0,
              Colour::white,
              false};
    item.rings = placed(item.rings, 0, middle);
    item.length_mm = height;
    if (random_.chance(0.3)) item.colour = lot_colour_;
    if (text.find("FIRE") != std::string::npos) item.colour = Colour::red;
    return item;
  }
  Group words() {
    const std::vector<std::string> all = {"STOP",      "ONLY",    "SLOW",   "NO/PARKING",
                                          "FIRE LANE", "LOADING", "PICKUP", "CLINIC"};
    const std::string text = random_.pick(all);
    Group g = {written(text, {0, 0})};
    if (random_.chance(0.4))
      g.push_back(line({0, random_.between(1200, 1700)}, std::numbers::pi / 2, random_.between(2000, 4000), stripe()));
    if (random_.chance(0.3)) g.push_back(arrow({random_.between(-300, 300), -random_.between(2000, 2800)}, 0));
    return g;
  }
  Group curb() {
    const Colour colour = random_.chance(0.5) ? Colour::yellow : Colour::red;
    Group g = {bar(Kind::curb, "curb", {0, 0}, std::numbers::pi / 2, random_.between(2500, 6000),
                   random_.between(110, 180), colour)};
    g.push_back(
        line({random_.between(-600, 600), random_.between(1800, 2300)}, 0, random_.between(2200, 3600), stripe()));
    return g;
  }

  Random& random_;
  const std::vector<Shape>& shapes_;
  Colour lot_colour_ = Colour::white;
};

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

std::vector<double> draw_proportions(Random& random, const Shape& shape) {
  std::vector<double> values;
  const bool home_made = random.chance(0.33);
  for (const Proportion& p : shape.proportions) {
    const double narrow = 0.22 * random.normal();
    double v = p.usual + (narrow < 0 ? narrow * (p.usual - p.low) : narrow * (p.high - p.usual));
    if (home_made) v = random.between(p.low + 0.1 * (p.usual - p.low), p.high - 0.25 * (p.high - p.usual));
    values.push_back(std::clamp(v, p.low, p.high));
  }
  return values;
}

const Shape& shape_named(const std::vector<Shape>& shapes, const std::string& name) {
  const auto found = std::find_if(shapes.begin(), shapes.end(), [&](const Shape& s) { return s.name == name; });
  if (found == shapes.end()) throw Failure("models/shapes.json: the renderer needs a shape called '" + name + "'");
  return *found;
}

std::vector<GroundRing> placed(const std::vector<GroundRing>& rings, double turn, GroundPoint at) {
  const double c = std::cos(turn), s = std::sin(turn);
  std::vector<GroundRing> out = rings;
  for (GroundRing& ring : out) {
    for (GroundPoint& p : ring)
      p = {at.x + c * p.x - s * p.y, at.y + s * p.x + c * p.y};
  }
  return out;
}

GroundPoint middle_of(const std::vector<GroundRing>& rings) {
  GroundPoint sum{};
  double whole = 0;
  for (const GroundRing& ring : rings) {
    const double a = area(ring);
    sum = sum + centroid(ring) * a;
    whole += a;
  }
  return whole > 0 ? sum * (1 / whole) : GroundPoint{};
}

std::vector<GroundPoint> points_inside(const std::vector<GroundRing>& rings, int count) {
  double whole = 0;
  for (const GroundRing& ring : rings)
    whole += area(ring);
  const double step = std::sqrt(whole / count);
  std::vector<GroundPoint> points;
  for (const GroundRing& ring : rings) {
    double top = 1e18, bottom = -1e18;
    for (const GroundPoint& p : ring)
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    const double rows = std::max(1.0, std::ceil((bottom - top) / step)), pitch = (bottom - top) / rows;
    for (double y = top + pitch / 2; y < bottom; y += pitch) {
      std::vector<double> cuts;
      for (std::size_t i = 0; i < ring.size(); ++i) {
        const GroundPoint a = ring[i], b = ring[(i + 1) % ring.size()];
        if ((a.y <= y) != (b.y <= y)) cuts.push_back(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
      }
      std::sort(cuts.begin(), cuts.end());
      for (std::size_t i = 0; i + 1 < cuts.size(); i += 2) {
        const int n = std::max(1, static_cast<int>(std::lround((cuts[i + 1] - cuts[i]) / step)));
        for (int k = 0; k < n; ++k)
          points.push_back({cuts[i] + (cuts[i + 1] - cuts[i]) * (k + 0.5) / n, y});
      }
    }
  }
  return points;
}

double share_in_view(const std::vector<GroundRing>& rings, const Camera& camera) {
  const std::vector<GroundPoint> points = points_inside(rings, 600);
  double seen = 0;
  for (const GroundPoint& p : points) {
    const auto image = camera.see(p);
    if (image && image->x >= 0 && image->y >= 0 && image->x < camera.width() && image->y < camera.height()) seen += 1;
  }
  return points.empty() ? 0 : seen / static_cast<double>(points.size());
}

void draw_markings(Random& random, Tier tier, const std::vector<Shape>& shapes, ScenePlan& scene) {
  Draughtsman draughtsman(random, shapes);
  const double megapixels = static_cast<double>(scene.camera.width) * scene.camera.height / 1e6;
  Group group;
  View view;
  for (int round = 0; round < 8 && view.share < 0.6; ++round) {
    group = draughtsman.group();
    view = find_view(random, tier, megapixels, group);
  }
  scene.camera = view.camera;
  const Camera camera(scene.camera);
  const Age lot = static_cast<Age>(random.weighted({0.14, 0.30, 0.24, 0.14, 0.07, 0.11}));
  Occupied occupied;
  for (const Item& item : group) {
    MarkingPlan m;
    m.kind = item.kind;
    m.shape = item.shape;
    m.length_mm = item.length_mm;
    m.rings = placed(item.rings, view.turn, view.at);
    const double share = share_in_view(m.rings, camera);
    if (share < 0.08 || scene.markings.size() >= 7 || !occupied.free(m.rings)) continue;
    m.coat = draw_coat(random, item.colour);
    age_marking(random, tier, draw_age(random, lot), m);
    m.id = "T" + std::to_string(scene.markings.size() + 1);
    if (item.field_below) {
      MarkingPlan field = m;
      field.rings = field_around(random, m.rings, view.turn);
      if (!occupied.free(field.rings)) continue;
      field.is_field = true;
      field.shape = "field";
      field.coat = draw_coat(random, Colour::blue);
      field.older.reset();
      field.id = m.id + "-field";
      m.older = field.coat;
      m.older_shift = {};
      m.older_turn = 0;
      if (m.wear.between_coats == 0) m.wear.between_coats = random.chance(0.3) ? random.between(0.1, 0.9) : 0;
      occupied.take(field.rings);
      scene.markings.push_back(field);
    }
    occupied.take(m.rings);
    scene.markings.push_back(m);
  }
}

}  // namespace lotwear::rendering
