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

/// Prints, for each marking of one scene whose name holds `only`, the share found where the true share lies in
/// <2, 2-15, 15-35, 35-65, 65-85, 85-95, 95-98.5, >98.5 %: references that are off show at the ends.
/// `keep`: folder for the pictures of true shares, as drawing takes longer than measuring.
void explain(const std::filesystem::path& truth_file, double edge_mm, const std::string& only, const std::string& keep);

}  // namespace lotwear
