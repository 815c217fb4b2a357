#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>

#include "cases.hpp"

namespace lotwear {

std::vector<Case> real_cases(const std::filesystem::path& data) {
  std::vector<std::filesystem::path> folders;
  for (const auto& entry : std::filesystem::directory_iterator(data)) {
    if (std::filesystem::exists(entry.path() / "footprints.json")) folders.push_back(entry.path());
  }
  std::sort(folders.begin(), folders.end());
  std::vector<Case> cases;
  for (const auto& folder : folders) {
    std::ifstream in(folder / "footprints.json");
    const nlohmann::json about = nlohmann::json::parse(in);
    std::map<std::string, std::vector<std::size_t>> by_image;
    const auto& list = about.at("footprints");
    for (std::size_t i = 0; i < list.size(); ++i)
      by_image[list[i].at("image").get<std::string>()].push_back(i);
    for (const auto& [image, indices] : by_image) {
      const Result<Photo> read = read_photo(folder / image);
      if (!read) continue;
      Photo photo = *read;
      photo.file = folder.filename().string() + "/" + photo.file;
      // No plane is known: pixels stand for the ground, scaled so that the marking is 120 mm wide.
      for (const std::size_t i : indices) {
        double whole = 0, around = 0;
        std::vector<ImageRing> rings;
        for (const std::size_t j : indices) {
          ImageRing ring;
          for (const auto& p : list[j].at("polygon"))
            ring.push_back({p[0].get<double>() + 0.5, p[1].get<double>() + 0.5});
          rings.push_back(ring);
          if (j == i) whole = area(ring), around = perimeter(ring);
        }
        const double scale = 120 / (2 * whole / around);
        Case one;
        one.photo = photo;
        one.name = photo.file + " " + list[i].at("id").get<std::string>();
        one.ground.image_from_ground = ImageFromGround({1 / scale, 0, 0, 0, 1 / scale, 0, 0, 0, 1});
        one.ground.ground_from_image = one.ground.image_from_ground.inverse();
        for (std::size_t j = 0; j < indices.size(); ++j) {
          Footprint footprint;
          footprint.rings.push_back(one.ground.ground_from_image(rings[j]));
          footprint.edge_error = {0.6 * scale * list[indices[j]].at("outline_precision_px").get<double>()};
          footprint.width_mm = 120;
          footprint.kind = Kind::line;  // or nearly; of other things the coat reader is not asked
          one.footprints.push_back(footprint);
          if (indices[j] == i) one.which = j;
        }
        one.value = list[i].at("remaining_paint_pct").get<double>() / 100;
        one.low = list[i].at("remaining_paint_range_pct")[0].get<double>() / 100;
        one.high = list[i].at("remaining_paint_range_pct")[1].get<double>() / 100;
        cases.push_back(one);
      }
    }
  }
  return cases;
}

}  // namespace lotwear
