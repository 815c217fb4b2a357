#pragma once
// PaintMap + Ground -> Footprints: where a marking was painted, and which kind it is.
// 1. sort the finder's map into pieces on the plan view; join pieces that belong together across worn gaps
// 2. straight pieces: long parallel edges -> bars; bars side by side -> crosswalk or hatching; end to end -> one line
// 3. other pieces: shapes of the trade fitted with free proportions; what fits none keeps its own outline
// 4. refine every edge on the full-resolution photo; the residual is the outline's own uncertainty

#include <optional>
#include <string>
#include <vector>

#include "base/geometry.hpp"
#include "base/kinds.hpp"
#include "ground/ground.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

struct Footprint {
  Kind kind = Kind::other;
  Fraction kind_confidence{};
  std::vector<GroundRing> rings;      ///< as painted, ground millimetres; may reach past the photo's edge
  Millimetres edge_error{};           ///< one standard deviation of where an edge lies (a common shift outward or inward)
  double length_mm = 0, width_mm = 0; ///< along the marking and across it (stripe width for bars)
  bool cut_off = false;               ///< the marking leaves the picture
  std::string text;                   ///< of a legend: its words in the order of reading, as far as they were read
  std::vector<std::string> doubts;
};

struct Markings {
  Ground ground;                      ///< with the scale that stripes and shapes gave, where no sheet did
  std::vector<Footprint> footprints;  ///< nearest first
};

Markings find_markings(const Photo& photo, const PaintMap& paint, const Ground& ground, const std::vector<Shape>& shapes);

/// Rings as photo pixels (may lie outside the photo).
std::vector<ImageRing> in_photo(const Ground& ground, const std::vector<GroundRing>& rings);

}  // namespace lotwear
