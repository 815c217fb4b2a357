#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>

#include "support/hand_drawn.hpp"

namespace lotwear::test {

std::vector<HandDrawn> hand_drawn(const std::filesystem::path& data) {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(data)) {
    if (std::filesystem::exists(entry.path() / "footprints.json")) files.push_back(entry.path() / "footprints.json");
  }
  std::sort(files.begin(), files.end());
  std::vector<HandDrawn> all;
  for (const auto& file : files) {
    std::ifstream in(file);
    const nlohmann::json about = nlohmann::json::parse(in);
    for (const nlohmann::json& one : about.at("footprints")) {
      HandDrawn drawn;
      drawn.set = file.parent_path().filename().string();
      drawn.photo = std::filesystem::path(one.at("image").get<std::string>()).filename().string();
      drawn.id = one.at("id").get<std::string>();
      // drawn by pixel centres at whole numbers
      for (const auto& p : one.at("polygon"))
        drawn.outline.push_back({p[0].get<double>() + 0.5, p[1].get<double>() + 0.5});
      drawn.remaining = one.at("remaining_paint_pct").get<double>();
      drawn.low = one.at("remaining_paint_range_pct")[0].get<double>();
      drawn.high = one.at("remaining_paint_range_pct")[1].get<double>();
      all.push_back(std::move(drawn));
    }
  }
  return all;
}

}  // namespace lotwear::test
