#include <algorithm>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "cases.hpp"
#include "support/paint_scene.hpp"

namespace lotwear {

std::vector<std::filesystem::path> scene_files(const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.path().string().ends_with(".truth.json")) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

std::vector<Case> scene_cases(const std::filesystem::path& truth_file, double edge_mm) {
  std::ifstream in(truth_file);
  const nlohmann::json truth = nlohmann::json::parse(in);
  const Result<Photo> read = read_photo(truth_file.parent_path() / truth.at("photo").get<std::string>());
  if (!read) return {};
  const Photo& photo = *read;
  Case one;
  std::array<double, 9> matrix{};
  for (std::size_t i = 0; i < 9; ++i)
    matrix[i] = truth.at("camera").at("image_to_ground")[i / 3][i % 3].get<double>();
  one.ground.ground_from_image = GroundFromImage(matrix);
  one.ground.image_from_ground = one.ground.ground_from_image.inverse();
  one.ground.scale_error = Fraction{0.01};
  std::vector<nlohmann::json> kept;
  double off = std::fmod(truth.at("seed").get<double>() * 0.618034, 1.0);
  for (const auto& marking : truth.at("markings")) {
    Footprint footprint;
    for (const auto& ring : marking.at("footprint")) {
      ImageRing points;
      for (const auto& p : ring) {
        const ImagePoint point{p[0].get<double>(), p[1].get<double>()};
        if (points.empty() || length(point - points.back()) > 0.05) points.push_back(point);
      }
      while (points.size() > 1 && length(points.front() - points.back()) < 0.05)
        points.pop_back();
      if (points.size() >= 3) footprint.rings.push_back(one.ground.ground_from_image(points));
    }
    if (footprint.rings.empty()) continue;
    // Fitted outlines are off by about this much, another way at every marking.
    off = std::fmod(off + 0.618034, 1.0);
    footprint = paint_scene::grown(footprint, edge_mm * (2 * off - 1) * 1.7);
    footprint.edge_error = {edge_mm};
    footprint.length_mm = marking.at("length_m").get<double>() * 1000;
    if (const auto kind = kind_from(marking.at("kind").get<std::string>())) footprint.kind = *kind;
    one.footprints.push_back(footprint);
    kept.push_back(marking);
  }
  std::vector<Case> cases;
  for (std::size_t i = 0; i < kept.size(); ++i) {
    const auto& marking = kept[i];
    if (!marking.value("count", true) || marking.value("share_in_frame", 1.0) < 0.5) continue;
    one.photo = photo;
    one.which = i;
    one.name = truth_file.stem().stem().string() + " " + marking.at("id").get<std::string>() + " " +
               marking.at("kind").get<std::string>() + "," + marking.at("colour").get<std::string>() + "," +
               marking.at("surface").get<std::string>();
    one.value = one.low = one.high = marking.at("remaining_percent").get<double>() / 100;
    one.abraded = marking.at("loss").at("abraded_percent").get<double>() / 100;
    one.flaked = marking.at("loss").at("flaked_percent").get<double>() / 100;
    one.cracked = marking.at("loss").at("cracked_percent").get<double>() / 100;
    one.older = marking.value("older_coat_percent", 0.0) / 100;
    one.faded = marking.at("faded_percent").get<double>() / 100;
    one.soiled = marking.at("soiled_percent").get<double>() / 100;
    one.colour = marking.at("colour").get<std::string>(), one.surface = marking.at("surface").get<std::string>();
    cases.push_back(one);
  }
  return cases;
}

}  // namespace lotwear
