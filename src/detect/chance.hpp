#pragma once
// How far the network is believed: its shares of layers turned into the chance that a spot was painted once.

#include <opencv2/core/mat.hpp>

#include "detect/detect.hpp"
#include "detect/finder_description.hpp"

namespace lotwear {

struct Chance {
  cv::Mat footprint, guess;   ///< see PaintMap
};

/// Two habits of the network are put right: paint that it takes for a thing counts by its odds against bare pavement, the more
/// clearly so the more it does, and loss that it guesses where no coat is in sight counts for as little as it has proved to be
/// worth (tools/finder, "How far it is believed"). Of `map` the layers are read.
Chance chance_of_paint(const PaintMap& map, const FinderDescription& about);

}  // namespace lotwear
