#pragma once
// Small made-up surveys: an invented lot, every number chosen by hand.

#include <algorithm>
#include <string>

#include "survey/survey.hpp"

namespace lotwear::samples {

inline std::string hash_of(char digit) { return std::string(64, digit); }

inline Interval about(double value, double give) {
  return {{std::max(0.0, value - give)}, {value}, {std::min(1.0, value + give)}};
}

/// A 4 in x 18 ft stall line, worn to 70 %: 6 sq ft.
inline SurveyMarking stall_line(const std::string& id, double left_px = 100) {
  SurveyMarking line;
  line.id = id;
  line.photo = "IMG_0001.jpg";
  line.kind = Kind::line;
  line.kind_confidence = 0.97;
  line.outline = {{{left_px, 200}, {left_px + 40, 200}, {left_px + 40, 1200}, {left_px, 1200}}};
  Condition& seen = line.condition;
  seen.colour = Colour::white;
  seen.surface = Surface::asphalt;
  seen.remaining = about(0.70, 0.03);
  seen.any_coat = {0.70};
  seen.loss = {{0.28}, {0.02}, {0.0}};
  seen.flaked = about(0.02, 0.01);
  seen.appearance = {3.1, {0.12}, {0.05}};
  seen.faded = about(0.12, 0.04);
  seen.size = Size{0.1016 * 5.4864, 5.4864, 0.1016, 2 * (0.1016 + 5.4864), {0.02}};
  line.decision = decide(seen, line.kind, Policy{});
  line.evidence_photo = "evidence/" + id + "-photo.jpg";
  line.evidence_plan = "evidence/" + id + "-plan.jpg";
  line.evidence_loss = "evidence/" + id + "-loss.png";
  return line;
}

/// A yellow arrow on concrete, peeling off an older white coat.
inline SurveyMarking peeling_arrow(const std::string& id) {
  SurveyMarking arrow = stall_line(id, 900);
  arrow.kind = Kind::arrow_straight;
  Condition& seen = arrow.condition;
  seen.colour = Colour::yellow;
  seen.surface = Surface::concrete;
  seen.remaining = about(0.632, 0.023);
  seen.any_coat = {0.71};
  seen.loss = {{0.041}, {0.302}, {0.025}};
  seen.flaked = about(0.302, 0.03);
  seen.older_coat = about(0.078, 0.02);
  seen.older_colour = Colour::white;
  seen.flaking_grade = FlakingGrade{5, 5};
  seen.size = Size{0.92, 2.43, 0.61, 6.1, {0.019}};
  arrow.decision = decide(seen, arrow.kind, Policy{});
  return arrow;
}

inline SurveyPhoto photo(const std::string& file, char digit) {
  SurveyPhoto photo;
  photo.file = file;
  photo.sha256 = hash_of(digit);
  photo.width = 4032;
  photo.height = 3024;
  photo.taken = "2026-04-11T09:02:00";
  photo.position = SurveyPhoto::Place{12.5, -45.25, 5.0};
  photo.sharpness = 0.81;
  photo.clipped_percent = 0.3;
  photo.advice = {"retake: the far end of the marking is out of frame"};
  photo.plane = SurveyPhoto::Plane{"scale-sheet", {2, 0, 0, 0, 2, 0, 0, 0, 1}, 0.8};
  return photo;
}

inline Survey small_lot() {
  Survey survey;
  survey.made_by_version = "0.1.0";
  survey.site = {"Harbour Row, north lot", std::nullopt, std::nullopt};
  survey.policy_json =
      R"({"_comment": "kept as it is", "format": "lotwear-policy", "version": 1, "grind": {"flaked_percent": 10,
    "older_coat_percent": 5, "tape_pull_class": 2, "build_up_mm": 1.0, "build_up_cracked_percent": 1}, "repaint":
    {"remaining_below_percent": 85, "faded_over_percent": 25}, "priority": {"severity_full_at_percent": 20,
    "severity_of_grind": 0.6, "consequence": {"stop-line": 1.0, "arrow": 0.9, "line": 0.5, "other": 0.5}}})";
  survey.photos = {photo("IMG_0001.jpg", 'a')};
  survey.markings = {stall_line("M001"), stall_line("M002", 400), peeling_arrow("M003")};
  survey.problems = {{"IMG_0420.HEIC", "truncated file: 12 of 31 tiles could be read"}};
  return survey;
}

}  // namespace lotwear::samples
