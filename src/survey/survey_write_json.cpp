#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/files.hpp"
#include "survey/survey.hpp"
#include "survey/text_json.hpp"

namespace lotwear {

namespace {

using nlohmann::ordered_json;

/// Rounded so that the file shows what was measured and not more. `+ 0.0` turns -0 into 0.
double rounded(double value, double steps_per_unit) {
  return std::round(value * steps_per_unit) / steps_per_unit + 0.0;
}
double tenth(double value) { return rounded(value, 10); }
double hundredth(double value) { return rounded(value, 100); }
double percents(Fraction share) { return tenth(percent(share)); }

template <class T>
ordered_json or_null(const std::optional<T>& value) {
  return value ? ordered_json(*value) : ordered_json(nullptr);
}
ordered_json or_null(const std::optional<double>& value, double steps_per_unit) {
  return value ? ordered_json(rounded(*value, steps_per_unit)) : ordered_json(nullptr);
}
/// What a person or the policy file said, in its own order. The text was valid when it came in.
ordered_json kept(const std::string& text) { return text.empty() ? ordered_json(nullptr) : ordered_json::parse(text); }
ordered_json named_or_null(const std::string& name) {
  return name.empty() ? ordered_json(nullptr) : ordered_json(name);
}

/// `remaining` and the losses in tenths of a percent that make 1000 where the shares make 1. What does not come out
/// even goes to the loss that decides least: abraded, else cracked, else flaked.
struct Shares {
  long remaining = 0, abraded = 0, flaked = 0, cracked = 0;
};

Shares whole_tenths(const Condition& seen) {
  const auto tenths = [](Fraction share) { return std::lround(share.value * 1000); };
  Shares shares{tenths(seen.remaining.value), tenths(seen.loss.abraded), tenths(seen.loss.flaked),
                tenths(seen.loss.cracked)};
  const double sum = (seen.remaining.value + seen.loss.abraded + seen.loss.flaked + seen.loss.cracked).value;
  constexpr double kMakesOne = 1e-3;  // a sum farther from 1 is no rounding and is shown as it is
  if (std::abs(sum - 1) > kMakesOne) return shares;
  long over = shares.remaining + shares.abraded + shares.flaked + shares.cracked - 1000;
  for (long* share : {&shares.abraded, &shares.cracked, &shares.flaked, &shares.remaining}) {
    const long given = std::min(over, *share);
    *share -= given;
    over -= given;
  }
  return shares;
}

double tenths_as_percent(long tenths) { return static_cast<double>(tenths) / 10; }

ordered_json json_of(const SurveyPhoto& photo) {
  ordered_json out;
  out["file"] = photo.file;
  out["sha256"] = photo.sha256;
  out["width"] = photo.width;
  out["height"] = photo.height;
  out["taken"] = or_null(photo.taken);
  out["position"] = nullptr;
  if (photo.position) {
    constexpr double kCentimetres = 1e7;  // 1e-7 degrees of latitude are 1.1 cm
    out["position"] = {{"lat", rounded(photo.position->lat, kCentimetres)},
                       {"lon", rounded(photo.position->lon, kCentimetres)},
                       {"error_m", or_null(photo.position->error_m, 10)}};
  }
  out["quality"] = {{"sharpness", hundredth(photo.sharpness)},
                    {"clipped_percent", tenth(photo.clipped_percent)},
                    {"advice", photo.advice}};
  out["plane"] = nullptr;
  if (photo.plane) {
    const auto& m = photo.plane->image_to_ground;
    out["plane"] = {{"source", photo.plane->source},
                    {"image_to_ground", {{m[0], m[1], m[2]}, {m[3], m[4], m[5]}, {m[6], m[7], m[8]}}},
                    {"scale_error_percent", or_null(photo.plane->scale_error_percent, 100)}};
  }
  return out;
}

ordered_json json_of(const std::vector<ImageRing>& outline) {
  ordered_json rings = ordered_json::array();
  for (const ImageRing& ring : outline) {
    ordered_json points = ordered_json::array();
    for (const ImagePoint& point : ring)
      points.push_back({tenth(point.x), tenth(point.y)});
    rings.push_back(std::move(points));
  }
  return rings;
}

ordered_json json_of(const std::optional<Size>& size) {
  if (!size) return nullptr;
  constexpr double kMillimetres = 1000, kSquareCentimetres = 10000;
  return {{"area_m2", rounded(size->area_m2, kSquareCentimetres)},
          {"length_m", rounded(size->length_m, kMillimetres)},
          {"width_m", rounded(size->width_m, kMillimetres)},
          {"perimeter_m", rounded(size->perimeter_m, kMillimetres)},
          {"error_percent", percents(size->error)}};
}

void add_condition(ordered_json& out, const Condition& seen) {
  const Shares shares = whole_tenths(seen);
  out["size"] = json_of(seen.size);
  out["paint"] = {{"remaining_percent", tenths_as_percent(shares.remaining)},
                  {"low", std::min(percents(seen.remaining.low), tenths_as_percent(shares.remaining))},
                  {"high", std::max(percents(seen.remaining.high), tenths_as_percent(shares.remaining))},
                  {"any_coat_percent", percents(seen.any_coat)},
                  {"seen_percent", percents(seen.seen)}};
  out["loss"] = {
      {"abraded_percent", tenths_as_percent(shares.abraded)},
      {"flaked_percent", tenths_as_percent(shares.flaked)},
      {"flaked_low", std::min(percents(seen.flaked.low), tenths_as_percent(shares.flaked))},
      {"flaked_high", std::max(percents(seen.flaked.high), tenths_as_percent(shares.flaked))},
      {"cracked_percent", tenths_as_percent(shares.cracked)},
      {"older_coat_percent", percents(seen.older_coat.value)},
      {"older_coat_low", percents(seen.older_coat.low)},
      {"older_coat_high", percents(seen.older_coat.high)},
      {"older_coat_colour", seen.older_colour ? ordered_json(word(*seen.older_colour)) : ordered_json(nullptr)}};
  out["appearance"] = {{"contrast", or_null(seen.appearance.contrast, 100)},
                       {"faded_percent", percents(seen.faded.value)},
                       {"faded_low", percents(seen.faded.low)},
                       {"faded_high", percents(seen.faded.high)},
                       {"soiled_percent", percents(seen.appearance.soiled)}};
  out["flaking_grade"] = nullptr;
  if (seen.flaking_grade) {
    out["flaking_grade"] = {{"density", seen.flaking_grade->density}, {"size", seen.flaking_grade->size}};
  }
  out["in_doubt"] = seen.in_doubt;
  out["doubts"] = seen.doubts;
}

ordered_json json_of(const SurveyMarking& marking) {
  ordered_json out;
  out["id"] = marking.id;
  out["photo"] = marking.photo;
  out["kind"] = word(marking.kind);
  out["kind_confidence"] = hundredth(marking.kind_confidence);
  if (!marking.words.empty()) out["words"] = marking.words;
  out["colour"] = word(marking.condition.colour);
  out["surface"] = word(marking.condition.surface);
  out["outline"] = json_of(marking.outline);
  add_condition(out, marking.condition);
  out["action"] = word(marking.decision.action);
  out["action_confidence"] = hundredth(marking.decision.action_confidence);
  out["reasons"] = marking.decision.reasons;
  out["needs_review"] = marking.decision.needs_review;
  out["priority"] = hundredth(marking.decision.priority);
  out["same_as"] = or_null(marking.same_as);
  if (marking.same_as_confidence) out["same_as_confidence"] = hundredth(*marking.same_as_confidence);
  out["person"] = kept(marking.person_json);
  out["evidence"] = {{"photo", named_or_null(marking.evidence_photo)},
                     {"plan", named_or_null(marking.evidence_plan)},
                     {"loss", named_or_null(marking.evidence_loss)}};
  return out;
}

template <class T>
ordered_json list_of(const std::vector<T>& all) {
  ordered_json list = ordered_json::array();
  for (const T& one : all)
    list.push_back(json_of(one));
  return list;
}

}  // namespace

std::string survey_text(const Survey& survey) {
  ordered_json out;
  out["format"] = "lotwear-survey";
  out["version"] = 1;
  if (survey.revision > 0) out["revision"] = survey.revision;
  out["made_by"] = {{"program", "lotwear"}, {"version", survey.made_by_version}};
  out["site"] = {{"name", or_null(survey.site.name)},
                 {"client", or_null(survey.site.client)},
                 {"address", or_null(survey.site.address)}};
  out["policy"] = kept(survey.policy_json);
  out["photos"] = list_of(survey.photos);
  out["markings"] = list_of(survey.markings);
  out["problems"] = ordered_json::array();
  for (const Problem& problem : survey.problems) {
    out["problems"].push_back({{"file", problem.file}, {"what", problem.what}});
  }
  return readable(out);
}

std::string marking_text(const SurveyMarking& marking) { return json_of(marking).dump(); }

std::string condition_text(const Condition& condition) {
  ordered_json out;
  out["colour"] = word(condition.colour);
  out["surface"] = word(condition.surface);
  add_condition(out, condition);
  return out.dump();
}

void save_survey(const Survey& survey, const std::filesystem::path& folder) {
  write_file(folder / "survey.json", survey_text(survey));
}

}  // namespace lotwear
