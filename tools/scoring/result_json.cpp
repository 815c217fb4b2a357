#include <nlohmann/json.hpp>

#include "base/trouble.hpp"
#include "scoring/score.hpp"

namespace lotwear::scoring {

namespace {

using Json = nlohmann::ordered_json;

Json totals_json(const Totals& t) {
  const auto s = [](const Spread& v) { return Json{{"n", v.n}, {"mean", v.mean}, {"p90", v.p90}, {"worst", v.worst}}; };
  return {{"photos", t.photos},
          {"truths", t.truths},
          {"found", t.found},
          {"false_alarms", t.alarms},
          {"pieces", t.pieces},
          {"remaining_error", s(t.remaining)},
          {"inside_interval", t.inside_interval},
          {"interval_width", t.interval_width},
          {"area_error_with_sheet", s(t.with_sheet.said)},
          {"area_error_without", s(t.without_sheet.said)},
          {"same_action", t.same_action},
          {"clear_cases", t.clear_cases},
          {"same_action_clear", t.same_action_clear},
          {"grinds", t.grinds},
          {"grinds_missed", t.grinds_missed},
          {"grinds_false", t.grinds_false},
          {"same_kind", t.same_kind},
          {"same_colour", t.same_colour},
          {"same_surface", t.same_surface},
          {"cause_error", t.cause_error},
          {"flaked_error", t.flaked_error},
          {"faded_error", t.faded_error},
          {"seen_twice", t.twice},
          {"counted_once", t.counted_once},
          {"wrongly_joined", t.wrongly_joined}};
}

template <class Enum, std::size_t N>
Enum word_in(const std::array<std::string_view, N>& words, const Json& j) {
  const auto found = from_word<Enum>(words, j.get<std::string>());
  if (!found) throw Failure("'" + j.get<std::string>() + "' is not a word of the survey file");
  return *found;
}

Json or_null(const std::optional<double>& v) { return v ? Json(*v) : Json(nullptr); }

Json marking_json(const MarkingScore& m) {
  return {{"truth", m.truth_id},
          {"marking", m.survey_id},
          {"counted_as", m.counted_as},
          {"found", m.found},
          {"overlap", m.overlap},
          {"near_threshold", m.near_threshold},
          {"sheet", m.sheet},
          {"whole", m.whole},
          {"kind", {word(m.kind), word(m.kind_said)}},
          {"colour", {word(m.colour), word(m.colour_said)}},
          {"surface", {word(m.surface), word(m.surface_said)}},
          {"action", {word(m.action), word(m.action_said)}},
          {"remaining", {m.remaining, m.remaining_said}},
          {"interval", {m.low, m.high}},
          {"abraded", {m.abraded, m.abraded_said}},
          {"flaked", {m.flaked, m.flaked_said}},
          {"cracked", {m.cracked, m.cracked_said}},
          {"faded", {m.faded, m.faded_said}},
          {"area_m2", {Json(m.area_m2), or_null(m.area_m2_said)}},
          {"size_error", m.size_error},
          {"area_split_m2", {or_null(m.area_by_plane_m2), or_null(m.area_by_outline_m2)}}};
}

MarkingScore marking_from(const Json& j, const std::string& scene) {
  MarkingScore m;
  m.scene = scene;
  m.truth_id = j.at("truth").get<std::string>();
  m.survey_id = j.at("marking").get<std::string>();
  m.counted_as = j.value("counted_as", m.survey_id);  // results of earlier versions have none
  m.found = j.at("found").get<bool>();
  m.overlap = j.at("overlap").get<double>();
  m.near_threshold = j.at("near_threshold").get<bool>();
  m.sheet = j.at("sheet").get<bool>();
  m.whole = j.at("whole").get<bool>();
  m.kind = word_in<Kind>(kKindWords, j.at("kind").at(0)), m.kind_said = word_in<Kind>(kKindWords, j.at("kind").at(1));
  m.colour = word_in<Colour>(kColourWords, j.at("colour").at(0));
  m.colour_said = word_in<Colour>(kColourWords, j.at("colour").at(1));
  m.surface = word_in<Surface>(kSurfaceWords, j.at("surface").at(0));
  m.surface_said = word_in<Surface>(kSurfaceWords, j.at("surface").at(1));
  m.action = word_in<Action>(kActionWords, j.at("action").at(0));
  m.action_said = word_in<Action>(kActionWords, j.at("action").at(1));
  const auto two = [&](const char* name, double& truth, double& said) {
    truth = j.at(name).at(0).get<double>(), said = j.at(name).at(1).get<double>();
  };
  two("remaining", m.remaining, m.remaining_said);
  two("interval", m.low, m.high);
  two("abraded", m.abraded, m.abraded_said);
  two("flaked", m.flaked, m.flaked_said);
  two("cracked", m.cracked, m.cracked_said);
  two("faded", m.faded, m.faded_said);
  m.area_m2 = j.at("area_m2").at(0).get<double>();
  if (!j.at("area_m2").at(1).is_null()) m.area_m2_said = j.at("area_m2").at(1).get<double>();
  // results of earlier versions have neither
  m.size_error = j.value("size_error", 0.0);
  if (const auto split = j.find("area_split_m2"); split != j.end()) {
    if (!split->at(0).is_null()) m.area_by_plane_m2 = split->at(0).get<double>();
    if (!split->at(1).is_null()) m.area_by_outline_m2 = split->at(1).get<double>();
  }
  return m;
}

}  // namespace

std::string result_text(const Scores& result) {
  Json j;
  j["format"] = "lotwear-score";
  j["version"] = 1;
  j["made_by"] = result.made_by;
  j["seconds_per_photo"] = result.seconds_per_photo;
  j["total"] = totals_json(total(result.scenes));
  j["scenes"] = Json::array();
  for (const SceneScore& s : result.scenes) {
    Json scene{{"scene", s.scene},      {"tier", s.tier},           {"lot", s.lot}, {"false_alarms", s.alarm_ids},
               {"pieces", s.piece_ids}, {"markings", Json::array()}};
    for (const MarkingScore& m : s.markings)
      scene["markings"].push_back(marking_json(m));
    j["scenes"].push_back(scene);
  }
  return j.dump(1) + "\n";
}

Scores result_from_text(const std::string& text, const std::string& file) {
  try {
    const Json j = Json::parse(text);
    Scores result;
    result.made_by = j.at("made_by").get<std::string>();
    result.seconds_per_photo = j.at("seconds_per_photo").get<double>();
    for (const Json& s : j.at("scenes")) {
      SceneScore scene;
      scene.scene = s.at("scene").get<std::string>();
      scene.tier = s.at("tier").get<std::string>();
      scene.lot = s.value("lot", scene.scene);  // results of earlier versions have none
      scene.alarm_ids = s.at("false_alarms").get<std::vector<std::string>>();
      scene.piece_ids = s.at("pieces").get<std::vector<std::string>>();
      for (const Json& m : s.at("markings"))
        scene.markings.push_back(marking_from(m, scene.scene));
      result.scenes.push_back(scene);
    }
    return result;
  } catch (const nlohmann::json::exception& e) {
    throw Failure(file + ": cannot be read as a score (" + e.what() + "); score again");
  } catch (const Failure& e) {
    throw Failure(file + ": " + e.what());
  }
}

}  // namespace lotwear::scoring
