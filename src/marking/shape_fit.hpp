#pragma once
// A shape of the trade laid over a piece of the finder's map: place, turn, length and proportions. Every drawing is
// laid on the piece's box, the best of each climb (one knob at a time), slide (all at once, shape_slide) and climb
// again on finer maps. The edges that the photo shows come after it (shape_edges).

#include <optional>
#include <vector>

#include "marking/patch.hpp"
#include "marking/pieces.hpp"
#include "marking/shape_pose.hpp"

namespace lotwear {

struct FittedShape {
  ShapePose pose;
  Kind kind = Kind::other;
  double agreement = 0;           ///< soft intersection over union with the finder's map, 0..1
  std::vector<ShapePose> rivals;  ///< other drawings that overlap nearly as well: edges decide between them
  double runner_up = 0;           ///< the best agreement of a shape of another kind
  Kind runner_up_kind = Kind::other;
  std::vector<GroundRing> rings;
  double edge_error_mm = 0;
  double support = 0;    ///< share of the rim with a step near by
  double clear_rim = 0;  ///< how clear the steps on the rim itself are, 0..1: what decides between drawings
};

/// Best of `shapes` for what the patch shows; nothing when none can be placed (agreement under a quarter).
std::optional<FittedShape> fit_shape(const Patch& patch, const std::vector<Shape>& shapes, double cell_mm);

/// One shape from a pose near by (in the patch), on a map of `map_pixels` along its long side: slid and climbed, nothing
/// else tried.
FittedShape fit_from(const Patch& patch, const Shape& shape, const ShapePose& pose, double cell_mm, double map_pixels);

}  // namespace lotwear
