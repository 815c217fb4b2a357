#pragma once
// models/finder.json: what the network wants and gives.

#include <filesystem>
#include <string>
#include <vector>

namespace lotwear {

struct FinderDescription {
  double long_side = 1024;     ///< pixels of the resized photo's longer side
  int multiple = 64;           ///< both sides are padded up to a multiple of this
  std::string layers_output;   ///< 1 x 7 x H/2 x W/2: pavement, not_ground, top_coat, older_coat, lost_abraded, lost_flaked, lost_cracked
  std::string kinds_output;    ///< 1 x 10 x H/8 x W/8, order of FinderKind
  /// How far the footprint's share is to be believed: it is raised to a power that falls as more coat is seen near by.
  std::vector<double> doubt_coat_near, doubt_power;   ///< knots, coat rising
};

/// Throws Failure naming the file and the field.
FinderDescription load_finder_description(const std::filesystem::path& file);

}  // namespace lotwear
