#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "detect/finder_description.hpp"

namespace lotwear {

FinderDescription load_finder_description(const std::filesystem::path& file) {
  try {
    const nlohmann::json json = nlohmann::json::parse(read_file(file, std::size_t{1} << 20));
    FinderDescription about;
    about.long_side = json.at("input").at("long_side");
    about.multiple = json.at("input").at("multiple_of");
    about.layers_output = "layers";
    about.kinds_output = "kinds";
    for (const std::string& name : {about.layers_output, about.kinds_output}) {
      if (!json.at("outputs").contains(name)) throw Failure(fmt::format("{}: no output '{}'; install lotwear again", file.string(), name));
    }
    if (about.long_side < 64 || about.long_side > 8192 || about.multiple < 1 || about.multiple > 1024) {
      throw Failure(fmt::format("{}: input size out of range; install lotwear again", file.string()));
    }
    about.doubt_coat_near = json.at("doubt").at("coat_near").get<std::vector<double>>();
    about.doubt_power = json.at("doubt").at("power").get<std::vector<double>>();
    if (about.doubt_power.empty() || about.doubt_power.size() != about.doubt_coat_near.size() ||
        !std::is_sorted(about.doubt_coat_near.begin(), about.doubt_coat_near.end())) {
      throw Failure(fmt::format("{}: 'doubt' needs as many powers as rising shares of coat; install lotwear again", file.string()));
    }
    return about;
  } catch (const nlohmann::json::exception& error) {
    throw Failure(fmt::format("{}: {}; install lotwear again", file.string(), error.what()));
  }
}

}  // namespace lotwear
