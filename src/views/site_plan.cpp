#include "views/site_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "views/html_text.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

constexpr double kWidth = 1000, kMostHeight = 640, kLeastHeight = 300, kMargin = 70;
constexpr double kLabelHeight = 24, kLetterWidth = 11, kTextSize = 14;
constexpr double kLeastExtentM = 12;  // a single place is not blown up beyond what its position knows

struct Box {
  double x = 0, y = 0, w = 0, h = 0;  ///< centre and size
  bool meets(const Box& other) const {
    return std::abs(x - other.x) < (w + other.w) / 2 && std::abs(y - other.y) < (h + other.h) / 2;
  }
};

/// One place where a photo with markings was taken.
struct Place {
  EastNorth at;
  std::optional<double> error_m;
  std::vector<const PlanMark*> marks;
  double x = 0, y = 0;
};

std::vector<Place> places_of(const Survey& survey, const std::vector<PlanMark>& marks) {
  std::vector<Place> places;
  const SurveyPhoto::Place* origin = nullptr;
  for (const SurveyPhoto& photo : survey.photos) {
    if (!photo.position) continue;
    Place place;
    for (const PlanMark& mark : marks) {
      if (mark.photo == photo.file) place.marks.push_back(&mark);
    }
    if (place.marks.empty()) continue;
    if (!origin) origin = &*photo.position;
    place.at = east_north(*origin, *photo.position);
    place.error_m = photo.position->error_m;
    places.push_back(std::move(place));
  }
  return places;
}

/// 1, 2 or 5 times a power of ten, at most `most`.
double round_length(double most) {
  const double power = std::pow(10, std::floor(std::log10(most)));
  for (const double step : {5.0, 2.0, 1.0}) {
    if (step * power <= most) return step * power;
  }
  return power;
}

std::string shown_id(const std::string& id) {
  constexpr std::size_t kLongest = 10;
  return cut_short(id, kLongest);
}

/// Candidate centres around a point: nearer rings first, each begun above and walked around; then the whole frame, the
/// nearest first.
std::vector<std::pair<double, double>> around(double x, double y, double height, double scale) {
  std::vector<std::pair<double, double>> all;
  for (int ring = 1; ring <= 14; ++ring) {
    const int steps = 8 + 4 * ring;
    for (int i = 0; i < steps; ++i) {
      const double angle = 2 * std::numbers::pi * i / steps;
      all.emplace_back(x + scale * (26.0 + 20.0 * ring) * std::sin(angle),
                       y - scale * (10.0 + 18.0 * ring) * std::cos(angle));
    }
  }
  const auto rings = static_cast<std::ptrdiff_t>(all.size());
  for (double v = kLabelHeight * scale; v < height; v += 13 * scale) {
    for (double u = kLabelHeight; u < kWidth; u += 16 * scale)
      all.emplace_back(u, v);
  }
  std::stable_sort(all.begin() + rings, all.end(), [&](const auto& one, const auto& other) {
    return std::hypot(one.first - x, one.second - y) < std::hypot(other.first - x, other.second - y);
  });
  return all;
}

class Layout {
 public:
  Layout(std::vector<Place> places, Units units) : places_(std::move(places)), units_(units) {}

  Drawing run() {
    fit();
    drawing_.width = kWidth;
    drawing_.height = height_;
    drawing_.kind = "plan";
    drawing_.rect(0.5, 0.5, kWidth - 1, height_ - 1, Tone::card, Tone::edge);
    reserve(scale_bar_box());
    reserve(north_box());
    draw_walk();
    for (const Place& place : places_)
      taken_.push_back({place.x, place.y, 12, 12});
    for (const Place& place : places_) {
      for (const PlanMark* mark : place.marks)
        put_label(place, *mark);
    }
    draw_places();
    for (const Drawn& one : labels_.items)
      drawing_.items.push_back(one);
    draw_scale_bar();
    draw_north();
    return std::move(drawing_);
  }

  double extent_east_m() const { return extent_east_m_; }
  double extent_north_m() const { return extent_north_m_; }

 private:
  void fit() {
    const auto [west, east] =
        std::minmax_element(places_.begin(), places_.end(), [](auto& a, auto& b) { return a.at.east_m < b.at.east_m; });
    const auto [south, north] = std::minmax_element(places_.begin(), places_.end(),
                                                    [](auto& a, auto& b) { return a.at.north_m < b.at.north_m; });
    extent_east_m_ = east->at.east_m - west->at.east_m;
    extent_north_m_ = north->at.north_m - south->at.north_m;
    const double wide = std::max(extent_east_m_, kLeastExtentM), high = std::max(extent_north_m_, kLeastExtentM / 4);
    per_m_ = std::min((kWidth - 2 * kMargin) / wide, (kMostHeight - 2 * kMargin) / high);
    height_ = std::clamp(high * per_m_ + 2 * kMargin, kLeastHeight, kMostHeight);
    const double middle_east = (east->at.east_m + west->at.east_m) / 2,
                 middle_north = (north->at.north_m + south->at.north_m) / 2;
    // Where many labels share the frame they are drawn smaller, so that they take no more than a third of it.
    double labels = 1;
    for (const Place& place : places_) {
      for (const PlanMark* mark : place.marks)
        labels += label_width(shown_id(mark->id)) * kLabelHeight;
    }
    scale_ = std::clamp(std::sqrt(kWidth * height_ / 3 / labels), 0.4, 1.0);
    for (Place& place : places_) {
      place.x = kWidth / 2 + (place.at.east_m - middle_east) * per_m_;
      place.y = height_ / 2 - (place.at.north_m - middle_north) * per_m_;
    }
  }

  static double label_width(const std::string& words) { return 30 + kLetterWidth * static_cast<double>(words.size()); }

  void reserve(const Box& box) { taken_.push_back(box); }

  void draw_walk() {
    for (std::size_t i = 1; i < places_.size(); ++i) {
      drawing_.line(places_[i - 1].x, places_[i - 1].y, places_[i].x, places_[i].y, Tone::edge, 2).dashed = true;
    }
  }

  bool is_free(const Box& box) const {
    const bool inside = box.x - box.w / 2 > 4 && box.x + box.w / 2 < kWidth - 4 && box.y - box.h / 2 > 4 &&
                        box.y + box.h / 2 < height_ - 4;
    return inside && std::none_of(taken_.begin(), taken_.end(), [&](const Box& other) { return other.meets(box); });
  }

  void put_label(const Place& place, const PlanMark& mark) {
    const std::string words = shown_id(mark.id);
    Box box{place.x, place.y, label_width(words) * scale_, kLabelHeight * scale_};
    for (const auto& [x, y] : around(place.x, place.y, height_, scale_)) {
      box.x = x, box.y = y;
      if (is_free({x, y, box.w + 3, box.h + 3})) break;
    }
    box.x = std::clamp(box.x, box.w / 2 + 4, kWidth - box.w / 2 - 4);
    box.y = std::clamp(box.y, box.h / 2 + 4, height_ - box.h / 2 - 4);
    taken_.push_back(box);
    drawing_.line(place.x, place.y, box.x, box.y, Tone::quiet, 1);
    const double left = box.x - box.w / 2, top = box.y - box.h / 2;
    Drawn& frame = labels_.rect(left, top, box.w, box.h, Tone::card, tone_of(mark.action));
    frame.corner = 4, frame.link = mark.id, frame.stroke_width = 1.5;
    labels_.sign(left + 4 * scale_, top + 4 * scale_, 16 * scale_, mark.action);
    Drawn& text = labels_.text(left + 24 * scale_, top + 17 * scale_, words, kTextSize * scale_, Tone::ink);
    text.align = Drawn::Align::left, text.bold = true;
  }

  void draw_places() {
    for (const Place& place : places_)
      drawing_.circle(place.x, place.y, 4.5, Tone::ink, Tone::card).stroke_width = 1.5;
  }

  double unit_m() const { return units_ == Units::metric ? 1 : kMetresPerFoot; }
  double bar_units() const { return round_length(kWidth / 4 / per_m_ / unit_m()); }
  double bar_px() const { return bar_units() * unit_m() * per_m_; }
  Box scale_bar_box() const { return {20 + bar_px() / 2 + 10, height_ - 26, bar_px() + 60, 44}; }
  static Box north_box() { return {kWidth - 34, 40, 48, 70}; }

  void draw_scale_bar() {
    const double x = 24, y = height_ - 22, length = bar_px();
    drawing_.rect(x, y, length / 2, 6, Tone::ink, Tone::ink);
    drawing_.rect(x + length / 2, y, length / 2, 6, Tone::card, Tone::ink);
    drawing_.text(x, y - 6, "0", 13, Tone::ink);
    drawing_.text(x + length, y - 6, fmt::format("{:g} {}", bar_units(), units_ == Units::metric ? "m" : "ft"), 13,
                  Tone::ink);
  }

  void draw_north() {
    const double x = kWidth - 34;
    drawing_.polygon({x, 14, x + 9, 44, x, 37}, Tone::ink);
    drawing_.polygon({x, 14, x - 9, 44, x, 37}, Tone::quiet);
    drawing_.text(x, 62, "N", 15, Tone::ink).bold = true;
  }

  std::vector<Place> places_;
  Units units_;
  Drawing drawing_, labels_;
  std::vector<Box> taken_;
  double per_m_ = 1, scale_ = 1, height_ = kLeastHeight, extent_east_m_ = 0, extent_north_m_ = 0;
};

std::string caption_of(const std::vector<Place>& places, double east_m, double north_m, Units units) {
  std::vector<double> errors;
  for (const Place& place : places) {
    if (place.error_m) errors.push_back(*place.error_m);
  }
  const auto far = [&](double metres) {
    return units == Units::metric ? number(metres, 0) + "\u00a0m" : number(metres / kMetresPerFoot, 0) + "\u00a0ft";
  };
  std::string caption = fmt::format(
      "North is up. A dot is where a photo was taken, not the marking itself; the dashed line is the walk, {} from "
      "west "
      "to east and {} from south to north.",
      far(east_m), far(north_m));
  if (!errors.empty()) {
    std::nth_element(errors.begin(), errors.begin() + static_cast<std::ptrdiff_t>(errors.size() / 2), errors.end());
    caption += fmt::format(" The phone knew its place to about {}.", far(errors[errors.size() / 2]));
  }
  return caption;
}

}  // namespace

EastNorth east_north(const SurveyPhoto::Place& from, const SurveyPhoto::Place& to) {
  const double phi = from.lat * std::numbers::pi / 180;
  // Lengths of a degree on the WGS 84 ellipsoid, series of its radii of curvature (from memory; the test checks them
  // against the radii themselves).
  const double north_m_per_degree = 111132.954 - 559.822 * std::cos(2 * phi) + 1.175 * std::cos(4 * phi);
  const double east_m_per_degree = 111412.84 * std::cos(phi) - 93.5 * std::cos(3 * phi) + 0.118 * std::cos(5 * phi);
  const double degrees_east = std::remainder(to.lon - from.lon, 360);  // also across 180 degrees
  return {degrees_east * east_m_per_degree, (to.lat - from.lat) * north_m_per_degree};
}

std::optional<SitePlan> site_plan(const Survey& survey, const std::vector<PlanMark>& marks, Units units) {
  const std::vector<Place> places = places_of(survey, marks);
  if (places.empty()) return std::nullopt;
  SitePlan plan;
  Layout layout(places, units);
  plan.drawing = layout.run();
  plan.caption = caption_of(places, layout.extent_east_m(), layout.extent_north_m(), units);
  plan.drawing.words = fmt::format("Site plan with {} at {}; the table of the order of work lists them all.",
                                   counted(static_cast<int>(marks.size()), "marking", "markings"),
                                   counted(static_cast<int>(places.size()), "place", "places"));
  for (const PlanMark& mark : marks) {
    const bool known = std::any_of(places.begin(), places.end(), [&](const Place& place) {
      return std::any_of(place.marks.begin(), place.marks.end(), [&](const PlanMark* m) { return m == &mark; });
    });
    if (!known) plan.without_position.push_back(mark.id);
  }
  return plan;
}

}  // namespace lotwear
