#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "survey/text_json.hpp"
#include "tally/repeats.hpp"
#include "tally/shown.hpp"
#include "tally/tally.hpp"

namespace lotwear {

namespace {

using nlohmann::ordered_json;

/// RFC 7946, 11.2: more digits would claim more than a phone knows; seven are a centimetre.
double degrees(double value) { return std::round(value * 1e7) / 1e7 + 0.0; }

ordered_json text_or_null(const std::optional<std::string>& text) {
  return text ? ordered_json(*text) : ordered_json();
}

ordered_json geometry_of(const SurveyPhoto* photo) {
  if (photo == nullptr || !photo->position) return nullptr;
  // RFC 7946, 3.1.1: longitude first.
  return {{"type", "Point"}, {"coordinates", {degrees(photo->position->lon), degrees(photo->position->lat)}}};
}

ordered_json feature_of(const SurveyMarking& marking, const Survey& survey, const Policy& policy) {
  const auto at = std::find_if(survey.photos.begin(), survey.photos.end(),
                               [&](const SurveyPhoto& photo) { return photo.file == marking.photo; });
  const SurveyPhoto* const photo = at == survey.photos.end() ? nullptr : &*at;
  const Decision decision = decision_of(marking, policy);
  const Condition seen = condition_of(marking);
  const std::optional<Size> size = size_of(marking, survey);
  ordered_json properties = {{"kind", word(kind_of(marking))},
                             {"colour", word(colour_of(marking))},
                             {"surface", word(seen.surface)},
                             {"remaining_percent", to_hundredths(percent(seen.remaining.value))},
                             {"low", to_hundredths(percent(seen.remaining.low))},
                             {"high", to_hundredths(percent(seen.remaining.high))},
                             {"action", word(decision.action)},
                             {"needs_review", decision.needs_review},
                             {"priority", to_hundredths(decision.priority)}};
  properties["area_m2"] = size ? ordered_json(to_hundredths(size->area_m2)) : ordered_json();
  properties["confirmed"] = marking.person().confirmed.value_or(false);
  properties["photo"] = marking.photo;
  properties["taken"] = photo ? text_or_null(photo->taken) : ordered_json();
  properties["position_of"] = "photo";  // the phone's place, some steps from the marking
  const bool known = photo && photo->position && photo->position->error_m;
  properties["position_error_m"] = known ? ordered_json(*photo->position->error_m) : ordered_json();
  return {{"type", "Feature"}, {"id", marking.id}, {"geometry", geometry_of(photo)}, {"properties", properties}};
}

}  // namespace

std::string markings_geojson(const Survey& survey) {
  const Policy policy = policy_of(survey);
  ordered_json out = {{"type", "FeatureCollection"}, {"features", ordered_json::array()}};
  for (const std::size_t at : count_once(survey).markings)
    out["features"].push_back(feature_of(survey.markings[at], survey, policy));
  return readable(out);
}

}  // namespace lotwear
