// Sizes and spacings of lots as they are, common practice, no source, except where models/shapes.json names one.

#include "rendering/groups.hpp"

#include <algorithm>
#include <cmath>

#include "marking/shapes_parts.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/letters.hpp"

namespace lotwear::rendering {

namespace {

constexpr double kInch = 25.4;

class Draughtsman {
 public:
  Draughtsman(Random& random, const std::vector<Shape>& shapes, const Wanted& wanted)
      : random_(random), shapes_(shapes), wanted_(wanted) {
    const Colour drawn = random.chance(0.55) ? Colour::white : Colour::yellow;
    lot_colour_ = wanted.colour.value_or(drawn);
  }

  Group group() {
    const std::size_t drawn = random_.weighted({24, 8, 16, 11, 10, 16, 6, 5, 6, 2});
    Group g = made(wanted_.group.value_or(static_cast<GroupKind>(drawn)));
    if (wanted_.colour) g[0].colour = *wanted_.colour;
    if (wanted_.field) g[0].field_below = *wanted_.field;
    return g;
  }

  Group made(GroupKind kind) {
    switch (kind) {
      case GroupKind::arrow:
        return arrow_and_lines();
      case GroupKind::two_arrows:
        return two_arrows();
      case GroupKind::stall_lines:
        return stall_lines();
      case GroupKind::stop:
        return stop_and_arrow();
      case GroupKind::crosswalk:
        return crosswalk();
      case GroupKind::accessible_stall:
        return accessible_stall();
      case GroupKind::aisle:
        return aisle();
      case GroupKind::yield:
        return yield();
      case GroupKind::words:
        return words();
      case GroupKind::curb:
        break;
    }
    return curb();
  }

  Item line(GroundPoint middle, double turn, double length_mm, double width_mm) {
    const Shape& shape = shape_named(shapes_, "line");
    return {Kind::line, shape.name,  placed(outline(shape, length_mm, {width_mm / length_mm}), turn, middle),
            length_mm,  lot_colour_, false};
  }
  double stripe() {
    return random_.chance(0.7) ? 4 * kInch * random_.between(0.94, 1.06) : random_.between(4, 6) * kInch;
  }

  Item arrow(GroundPoint middle, double turn, const std::string& wanted = {}) {
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
    const Shape& shape = shape_named(shapes_, wanted.empty() ? random_.pick(names) : wanted);
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
    Group g = {arrow({0, 0}, 0, wanted_.shape)};
    if (random_.chance(0.45))
      g.push_back(line({random_.sign() * random_.between(900, 1900), random_.between(-800, 800)}, 0,
                       random_.between(2400, 5500), stripe()));
    if (random_.chance(0.3))
      g.push_back(line({random_.between(-800, 800), -random_.between(1900, 2800)}, std::numbers::pi / 2,
                       random_.between(1500, 4000), stripe()));
    return g;
  }
  Group two_arrows() {
    Group g = {arrow({0, 0}, 0, wanted_.shape)};
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
    const int drawn = random_.whole(0, 2);
    const int style = wanted_.shape == "crosswalk-bars"     ? 0
                      : wanted_.shape == "crosswalk-ladder" ? 1
                      : wanted_.shape == "crosswalk-lines"  ? 2
                                                            : drawn;
    switch (style) {
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
    const std::string drawn = random_.chance(0.75) ? "accessible-seated" : "accessible-leaning";
    const Shape& shape = shape_named(shapes_, wanted_.shape.empty() ? drawn : wanted_.shape);
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
    const std::string drawn = random_.pick(all);
    const std::string text = wanted_.shape.empty() ? drawn : wanted_.shape;
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
  const Wanted& wanted_;
  Colour lot_colour_ = Colour::white;
};

}  // namespace

Group draw_group(Random& random, const std::vector<Shape>& shapes, const Wanted& wanted) {
  return Draughtsman(random, shapes, wanted).group();
}

Item draw_stray(Random& random, const std::vector<Shape>& shapes, Colour colour) {
  Wanted wanted;
  wanted.colour = colour;
  Draughtsman draughtsman(random, shapes, wanted);
  const double turn = random.chance(0.7) ? 0 : std::numbers::pi / 2;
  if (random.chance(0.3)) return draughtsman.arrow({0, 0}, turn + (random.chance(0.5) ? std::numbers::pi : 0));
  return draughtsman.line({0, 0}, turn, random.between(1500, 5000), draughtsman.stripe());
}

}  // namespace lotwear::rendering
