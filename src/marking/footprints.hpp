#pragma once
// Footprints of what the pieces were read as: outlines as painted, kind, size and edge error.

#include <vector>

#include "marking/groups.hpp"
#include "marking/marking.hpp"
#include "marking/reading.hpp"

namespace lotwear {

struct Extent { double length_mm = 0, width_mm = 0; };

/// Of the smallest box around all rings.
Extent extent_of(const std::vector<GroundRing>& rings);

/// The outline is the drawing's; otherwise the piece keeps its own.
bool keeps_to_drawing(const Piece& piece, const Reading& reading, bool letter);

Footprint shaped_footprint(const Piece& piece, Reading& reading, const Sight& sight, const std::vector<Shape>& shapes, bool letter);

/// The symbol, then the whole field below it (`measure` leaves out what lies upon it).
std::vector<Footprint> field_footprints(const Piece& piece, const PaintedField& field);

Footprint triangle_footprint(const Piece& piece, const Reading& reading, const Sight& sight);

Footprint group_footprint(const BarGroup& group, const std::vector<FittedBar>& bars);

/// Merges letters into words and triangles into yield lines.
std::vector<Footprint> gather(std::vector<Footprint> loose, Kind kind, double least_reach_mm);

}  // namespace lotwear
