#pragma once
// A shape of the trade laid over a piece: place, turn, length and proportions, first on the finder's map, then on the edges
// that the photo shows.

#include <optional>
#include <vector>

#include "marking/patch.hpp"
#include "marking/pieces.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

/// A shape in a patch. `turn` and place are in the patch frame, length in millimetres.
struct ShapePose {
  std::size_t shape = 0;            ///< index into the shapes tried
  PatchPoint middle;
  double turn = 0;                  ///< radians, 0: points to -y of the patch
  double length_mm = 0;
  double squeeze = 0;               ///< log of width over length against the drawing: what an uncertain tilt does to a shape
  double shear = 0;
  double lean_x = 0, lean_y = 0;    ///< keystone that is left when the plane's tilt is not quite right, per shape length
  std::vector<double> values;       ///< proportions
};

struct FittedShape {
  ShapePose pose;
  Kind kind = Kind::other;
  double agreement = 0;             ///< soft intersection over union with the finder's map, 0..1
  std::vector<ShapePose> rivals;    ///< other drawings that overlap nearly as well: edges decide between them
  double runner_up = 0;             ///< the best agreement of a shape of another kind
  Kind runner_up_kind = Kind::other;
  std::vector<GroundRing> rings;
  double edge_error_mm = 0;
  double support = 0;               ///< share of the rim with a step near by
  double clear_rim = 0;             ///< how clear the steps on the rim itself are, 0..1: what decides between drawings
};

/// Best of `shapes` for what the patch shows; nothing when none can be placed (agreement under a quarter).
std::optional<FittedShape> fit_shape(const Patch& patch, const std::vector<Shape>& shapes, double cell_mm);

/// The fitted shape's edges moved to where the photo shows them.
void refine_shape(FittedShape& fitted, const Patch& patch, const std::vector<Shape>& shapes, double cell_mm);

}  // namespace lotwear
