#pragma once
// Markings that belong together on a lot, in a frame of their own.

#include <string>
#include <vector>

#include "rendering/scene.hpp"

namespace lotwear::rendering {

enum class GroupKind { arrow, two_arrows, stall_lines, stop, crosswalk, accessible_stall, aisle, yield, words, curb };

/// A marking in the frame of its group: the first of a group lies at (0, 0).
struct Item {
  Kind kind = Kind::other;
  std::string shape;
  std::vector<GroundRing> rings;
  double length_mm = 0;
  Colour colour = Colour::white;
  bool field_below = false;
};
using Group = std::vector<Item>;

/// What a group should be like, where it is not left to chance.
struct Wanted {
  std::optional<GroupKind> group;
  std::string shape;             ///< of the first marking; empty: drawn
  std::optional<Colour> colour;  ///< of the first marking and of those painted with it
  std::optional<bool> field;     ///< blue ground under the accessible symbol
};

Group draw_group(Random& random, const std::vector<Shape>& shapes, const Wanted& wanted);

/// One more thing that may lie somewhere on the lot: a line or an arrow.
Item draw_stray(Random& random, const std::vector<Shape>& shapes, Colour colour);

}  // namespace lotwear::rendering
