#pragma once
// An invented lot with twelve markings of many kinds and every action, its evidence pictures, and an estimate by hand.

#include <array>
#include <filesystem>
#include <string>
#include <vector>

#include "made_up.hpp"
#include "survey/survey.hpp"
#include "tally/tally.hpp"
#include "views/evidence.hpp"

namespace lotwear::made_up {

struct Worn {
  Kind kind;
  Colour colour;
  Surface surface;
  double remaining, abraded, flaked, older, spread;
  double length_m, width_m;
};

inline constexpr std::array<Worn, 12> kWorn = {
    {{Kind::stop_line, Colour::white, Surface::asphalt, .31, .66, .02, .00, .03, 3.6, .45},
     {Kind::arrow_straight, Colour::yellow, Surface::concrete, .63, .05, .30, .08, .02, 2.43, .61},
     {Kind::accessible_symbol, Colour::blue, Surface::asphalt, .52, .12, .34, .00, .05, 1.22, 1.22},
     {Kind::crosswalk, Colour::white, Surface::asphalt, .74, .22, .03, .00, .03, 3.0, 2.4},
     {Kind::line, Colour::white, Surface::asphalt, .88, .11, .01, .00, .06, 5.49, .10},
     {Kind::line, Colour::white, Surface::asphalt, .79, .19, .02, .00, .02, 5.49, .10},
     {Kind::line, Colour::white, Surface::asphalt, .96, .04, .00, .00, .01, 5.49, .10},
     {Kind::hatching, Colour::yellow, Surface::asphalt, .83, .06, .09, .02, .04, 4.8, 1.5},
     {Kind::arrow_left, Colour::white, Surface::asphalt, .92, .07, .00, .00, .02, 2.4, .9},
     {Kind::legend, Colour::yellow, Surface::asphalt, .45, .50, .04, .00, .05, 2.4, 1.9},
     {Kind::curb, Colour::red, Surface::concrete, .58, .10, .31, .11, .06, 6.1, .15},
     {Kind::line, Colour::yellow, Surface::concrete, .98, .02, .00, .00, .01, 5.49, .10}}};

inline Interval about(double value, double spread) {
  return {{std::max(0.0, value - spread)}, {value}, {std::min(1.0, value + spread)}};
}

inline SurveyMarking marking(std::size_t i) {
  const Worn& w = kWorn.at(i);
  SurveyMarking m;
  m.id = "M0" + std::string(i < 9 ? "0" : "") + std::to_string(i + 1);
  m.photo = "IMG_04" + std::to_string(12 + i / 3) + ".jpg";
  m.kind = w.kind;
  m.kind_confidence = .94;
  m.outline = {{{1500, 800}, {2100, 800}, {2100, 2400}, {1500, 2400}}};
  Condition& c = m.condition;
  c.colour = w.colour;
  c.surface = w.surface;
  c.remaining = about(w.remaining, w.spread);
  c.any_coat = {w.remaining + w.older};
  c.loss = {{w.abraded}, {w.flaked}, {1 - w.remaining - w.abraded - w.flaked}};
  c.flaked = about(w.flaked, w.spread / 2);
  c.older_coat = about(w.older, w.spread / 4);
  if (w.older > 0) c.older_colour = Colour::white;
  c.faded = about(.12, .03);
  c.appearance = {2.4, {.12}, {.06}};
  if (w.flaked > .01) c.flaking_grade = FlakingGrade{w.flaked > .15 ? 5 : 4, 4};
  if (i != 11) c.size = Size{w.length_m * w.width_m * .8, w.length_m, w.width_m, 2 * (w.length_m + w.width_m), {.019}};
  m.decision = decide(c, w.kind, Policy{});
  m.evidence_photo = "evidence/" + m.id + "-photo.jpg";
  m.evidence_plan = "evidence/" + m.id + "-plan.jpg";
  m.evidence_loss = "evidence/" + m.id + "-loss.png";
  return m;
}

inline Survey lot() {
  Survey survey;
  survey.made_by_version = "0.1.0";
  survey.site = {"Quarry Lane Shops, east lot", "Quarry Lane Holdings (invented)", "1 Quarry Lane, Exampleton"};
  for (std::size_t i = 0; i < kWorn.size(); ++i)
    survey.markings.push_back(marking(i));
  survey.markings[2].person_json =
      R"({"note": "Tape pulled off a hand-sized piece at the wheel.", "adhesion": 1, "confirmed": true})";
  survey.markings[3].person_json =
      R"({"colour": "white", "note": "Owner wants this one done before the school year."})";
  SurveyMarking again = marking(4);
  again.id = "M013";
  again.same_as = "M005";
  survey.markings.push_back(again);
  for (int i = 0; i < 5; ++i) {
    SurveyPhoto photo;
    photo.file = "IMG_04" + std::to_string(12 + i) + ".jpg";
    photo.sha256 = std::string(64, static_cast<char>('a' + i));
    photo.width = 4032;
    photo.height = 3024;
    photo.taken = "2026-04-11T09:0" + std::to_string(2 + i) + ":00";
    photo.position = SurveyPhoto::Place{40.123456 + i * 1e-5, -83.012345, 5.0};
    photo.sharpness = .81;
    if (i == 3) photo.advice = {"retake: the far end of the marking is out of frame"};
    photo.plane =
        SurveyPhoto::Plane{i == 0 ? "scale-sheet" : "stripe-width", {2, 0, 0, 0, 2, 0, 0, 0, 1}, i == 0 ? .8 : 3.1};
    survey.photos.push_back(photo);
  }
  survey.problems = {{"IMG_0420.HEIC", "truncated file: 12 of 31 tiles could be read; copy it from the phone again"}};
  return survey;
}

inline cv::Scalar paint_of(Colour colour) {
  switch (colour) {
    case Colour::yellow:
      return {226, 184, 58};
    case Colour::blue:
      return {48, 92, 170};
    case Colour::red:
      return {176, 48, 44};
    default:
      return {226, 227, 222};
  }
}

/// Evidence pictures of every marking into `folder`; small photos, so that tests stay quick.
inline void write_pictures(const Survey& survey, const std::filesystem::path& folder, cv::Size photo_size) {
  for (std::size_t i = 0; i < kWorn.size(); ++i) {
    const Worn& w = kWorn.at(i);
    const bool long_thin = w.length_m / w.width_m > 6;
    const LossMap map = loss_map(long_thin ? cv::Size(150, 640) : cv::Size(300, 520), static_cast<std::uint32_t>(i) + 3,
                                 w.abraded, 2.0 * w.flaked, w.older > 0, paint_of(w.colour));
    const Scene scene = photo_of(map, photo_size, static_cast<std::uint32_t>(i) + 40);
    write_evidence(scene.photo, scene.outline, map, survey.markings[i].id, folder,
                   survey.markings[i].condition.size ? PlanScale::true_millimetres : PlanScale::nominal);
  }
}

inline QuantityLine quantity(std::size_t i, Action action, double paint_l, double grind_m2) {
  const SurveyMarking m = marking(i);
  QuantityLine line;
  line.kind = m.kind;
  line.colour = m.condition.colour;
  line.surface = m.condition.surface;
  line.action = action;
  line.markings = {m.id};
  line.count = 1;
  line.without_size = m.condition.size ? 0 : 1;
  if (m.condition.size) {
    line.length_m = m.condition.size->length_m;
    line.area_m2 = m.condition.size->area_m2;
    line.masking_m = m.condition.size->perimeter_m;
  }
  line.paint_l = paint_l;
  line.grind_m2 = grind_m2;
  return line;
}

/// By hand: only the arithmetic of a page is looked at here.
inline Estimate estimate_by_hand() {
  Estimate estimate;
  estimate.quantities = {quantity(0, Action::repaint, .50, 0), quantity(1, Action::grind_and_repaint, .46, 1.19),
                         quantity(2, Action::grind_and_repaint, .46, 1.19), quantity(5, Action::repaint, .17, 0),
                         quantity(11, Action::no_action, 0, 0)};
  estimate.paint = {{Colour::white, .67, 0}, {Colour::yellow, .46, 0}, {Colour::blue, .46, 0}};
  estimate.crew_h = 2.3;
  estimate.drying_h = 1.0 / 6;
  estimate.prices = {{"Mobilisation", 1, "each", 15000, 15000, "one a visit"},
                     {"Grinding old paint off", 25.6, "sq ft", 450, 11520, "secret rate of 4.50"},
                     {"Painting lines and symbols", 44.3, "sq ft", 325, 14398, "secret margin"},
                     {"Paint", .42, "gal", 4200, 1764, "secret mark-up"}};
  estimate.subtotal_cents = 42682;
  estimate.tax_cents = 2988;
  estimate.total_cents = 45670;
  estimate.notes = {"Paint: 15 mil wet, one coat.",
                    "1 marking has no size: it is counted, and its amounts are missing."};
  return estimate;
}

}  // namespace lotwear::made_up
