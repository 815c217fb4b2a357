#pragma once
// What `measuring` runs over: a photo, where the marking is, and what is known of it.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "capture/photo.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"

namespace lotwear {

struct Case {
  std::string name;
  Photo photo;
  Ground ground;
  std::vector<Footprint> footprints;
  std::size_t which = 0;
  double low = 0, value = 0, high = 0;  ///< known remaining share
  std::optional<double> abraded, flaked, cracked, older, faded, soiled;
  std::string colour, surface;
};

/// Hand-drawn footprints of a folder of openly licensed photos: footprints.json in each subfolder.
std::vector<Case> real_cases(const std::filesystem::path& data);

/// Truth files of a folder of rendered scenes, sorted.
std::vector<std::filesystem::path> scene_files(const std::filesystem::path& folder);
/// The counted markings of one scene, at least half in frame, with outlines off by about `edge_mm`.
std::vector<Case> scene_cases(const std::filesystem::path& truth_file, double edge_mm);

}  // namespace lotwear
