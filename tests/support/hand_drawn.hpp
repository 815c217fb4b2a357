#pragma once
// Footprints drawn by hand over the public photos, with one person's estimate of the paint left and the range meant to
// hold the truth (footprints.json of each set; how they came about stands in its SOURCE.md).

#include <filesystem>
#include <string>
#include <vector>

#include "base/geometry.hpp"

namespace lotwear::test {

struct HandDrawn {
  std::string set, photo, id;               ///< folder, file name, name within the photo
  ImageRing outline;                        ///< as painted once; the hand's precision is 1 to 4 pixels
  double remaining = 0, low = 0, high = 0;  ///< percent
};

/// All sets below `data`, in the order of their names.
std::vector<HandDrawn> hand_drawn(const std::filesystem::path& data);

}  // namespace lotwear::test
