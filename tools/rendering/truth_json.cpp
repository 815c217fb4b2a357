#include <cmath>
#include <nlohmann/json.hpp>

#include "base/trouble.hpp"
#include "rendering/render.hpp"

namespace lotwear::rendering {

namespace {

using Json = nlohmann::ordered_json;

double rounded(double v, double digits) { return std::round(v * digits) / digits; }
double percent_of(double share) { return rounded(100 * share, 1000); }

Json rings_json(const std::vector<ImageRing>& rings) {
  Json out = Json::array();
  for (const ImageRing& ring : rings) {
    Json points = Json::array();
    for (const ImagePoint& p : ring)
      points.push_back({rounded(p.x, 100), rounded(p.y, 100)});
    out.push_back(points);
  }
  return out;
}

Json marking_json(const MarkingTruth& t) {
  Json j;
  j["id"] = t.id;
  j["kind"] = word(t.kind);
  j["shape"] = t.shape;
  j["colour"] = word(t.colour);
  j["surface"] = word(t.surface);
  j["older_colour"] = t.older_colour ? Json(word(*t.older_colour)) : Json(nullptr);
  j["remaining_percent"] = percent_of(t.remaining);
  j["any_coat_percent"] = percent_of(t.any_coat);
  j["older_coat_percent"] = percent_of(t.older);
  j["loss"] = {{"abraded_percent", percent_of(t.abraded)},
               {"flaked_percent", percent_of(t.flaked)},
               {"cracked_percent", percent_of(t.cracked)}};
  j["faded_percent"] = percent_of(t.faded);
  j["soiled_percent"] = percent_of(t.soiled);
  j["action"] = word(t.action);
  j["near_threshold"] = t.near_threshold;
  j["count"] = t.count;
  j["share_in_frame"] = rounded(t.share_in_frame, 1e4);
  j["area_m2"] = rounded(t.area_m2, 1e5);
  j["area_in_frame_m2"] = rounded(t.area_in_frame_m2, 1e5);
  j["painted_m2"] = rounded(t.painted_m2, 1e5);
  j["length_m"] = rounded(t.length_m, 1e4);
  j["footprint"] = rings_json(t.footprint);
  return j;
}

MarkingTruth marking_from(const Json& j) {
  MarkingTruth t;
  t.id = j.at("id").get<std::string>();
  t.shape = j.value("shape", std::string());
  const auto kind = kind_from(j.at("kind").get<std::string>());
  const auto colour = colour_from(j.at("colour").get<std::string>());
  const auto surface = surface_from(j.at("surface").get<std::string>());
  const auto action = action_from(j.at("action").get<std::string>());
  if (!kind || !colour || !surface || !action)
    throw Failure("a word of marking '" + t.id + "' is not one of the survey file's");
  t.kind = *kind, t.colour = *colour, t.surface = *surface, t.action = *action;
  if (!j.at("older_colour").is_null()) t.older_colour = colour_from(j.at("older_colour").get<std::string>());
  t.remaining = j.at("remaining_percent").get<double>() / 100;
  t.any_coat = j.at("any_coat_percent").get<double>() / 100;
  t.older = j.at("older_coat_percent").get<double>() / 100;
  t.abraded = j.at("loss").at("abraded_percent").get<double>() / 100;
  t.flaked = j.at("loss").at("flaked_percent").get<double>() / 100;
  t.cracked = j.at("loss").at("cracked_percent").get<double>() / 100;
  t.faded = j.at("faded_percent").get<double>() / 100;
  t.soiled = j.at("soiled_percent").get<double>() / 100;
  t.near_threshold = j.at("near_threshold").get<bool>();
  t.count = j.at("count").get<bool>();
  t.share_in_frame = j.at("share_in_frame").get<double>();
  t.area_m2 = j.at("area_m2").get<double>();
  t.area_in_frame_m2 = j.at("area_in_frame_m2").get<double>();
  t.painted_m2 = j.value("painted_m2", 0.0);
  t.length_m = j.at("length_m").get<double>();
  for (const Json& points : j.at("footprint")) {
    ImageRing ring;
    for (const Json& p : points)
      ring.push_back({p.at(0).get<double>(), p.at(1).get<double>()});
    t.footprint.push_back(ring);
  }
  return t;
}

}  // namespace

std::string truth_text(const SceneTruth& truth) {
  Json j;
  j["format"] = "lotwear-truth";
  j["version"] = 1;
  j["photo"] = truth.photo;
  j["tier"] = kTierWords[static_cast<std::size_t>(truth.tier)];
  j["seed"] = truth.seed;
  j["width"] = truth.width;
  j["height"] = truth.height;
  const auto& m = truth.ground_from_image.matrix();
  // a homography's size is free: written so that its last entry is 1, unless that is where it vanishes
  const double by = std::abs(m[8]) > 1e-12 ? 1 / m[8] : 1;
  j["camera"] = {
      {"focal_px", rounded(truth.focal_px, 100)},
      {"tilt_deg", rounded(truth.tilt_deg, 1000)},
      {"stand_mm", rounded(truth.stand_mm, 10)},
      {"distortion", rounded(truth.distortion, 1e6)},
      {"image_to_ground",
       {{m[0] * by, m[1] * by, m[2] * by}, {m[3] * by, m[4] * by, m[5] * by}, {m[6] * by, m[7] * by, m[8] * by}}}};
  j["sheet"] = truth.sheet;
  j["markings"] = Json::array();
  for (const MarkingTruth& t : truth.markings)
    j["markings"].push_back(marking_json(t));
  return j.dump(1) + "\n";
}

SceneTruth truth_from_text(const std::string& text, const std::string& file) {
  try {
    const Json j = Json::parse(text);
    SceneTruth truth;
    truth.photo = j.at("photo").get<std::string>();
    truth.seed = j.at("seed").get<std::uint64_t>();
    const auto tier = from_word<Tier>(kTierWords, j.at("tier").get<std::string>());
    if (!tier) throw Failure("its tier is not clear, plain or hard");
    truth.tier = *tier;
    truth.width = j.at("width").get<int>();
    truth.height = j.at("height").get<int>();
    truth.sheet = j.at("sheet").get<bool>();
    const Json& camera = j.at("camera");
    truth.focal_px = camera.at("focal_px").get<double>();
    truth.tilt_deg = camera.at("tilt_deg").get<double>();
    truth.stand_mm = camera.at("stand_mm").get<double>();
    truth.distortion = camera.at("distortion").get<double>();
    GroundFromImage::Matrix m{};
    for (std::size_t r = 0; r < 3; ++r) {
      for (std::size_t c = 0; c < 3; ++c)
        m[3 * r + c] = camera.at("image_to_ground").at(r).at(c).get<double>();
    }
    truth.ground_from_image = GroundFromImage(m);
    for (const Json& marking : j.at("markings"))
      truth.markings.push_back(marking_from(marking));
    return truth;
  } catch (const nlohmann::json::exception& e) {
    throw Failure(file + ": cannot be read as the truth of a scene (" + e.what() + "); render the scene again");
  } catch (const Failure& e) {
    throw Failure(file + ": " + e.what());
  }
}

}  // namespace lotwear::rendering
