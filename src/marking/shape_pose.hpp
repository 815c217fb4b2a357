#pragma once
// Where a drawing of the trade lies in a patch, as free numbers that a fit can turn, and its outline there.

#include <vector>

#include "marking/patch.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

/// A shape in a patch. `turn` and place are in the patch frame, length in millimetres.
struct ShapePose {
  std::size_t shape = 0;  ///< index into the shapes tried
  PatchPoint middle;
  double turn = 0;  ///< radians, 0: points to -y of the patch
  double length_mm = 0;
  double squeeze = 0;  ///< log of width over length against the drawing: what an uncertain tilt does to a shape
  double shear = 0;
  double lean_x = 0, lean_y = 0;  ///< keystone that is left when the plane's tilt is not quite right, per shape length
  std::vector<double> values;     ///< proportions
};

using PatchRing = Ring<struct PatchFrame>;

/// The shape's outline in a patch of this scale.
std::vector<PatchRing> rings_in_patch(const ShapePose& pose, const Shape& shape, double mm_per_pixel);

/// The same place in a patch whose pixels are `by` times as many.
ShapePose moved_to(ShapePose pose, double by);

/// One shape drawn over and over: most poses differ from the one before in place only, and the outline is the same.
class Drawing {
 public:
  Drawing(const Shape& shape, double mm_per_pixel) : shape_(shape), mm_(mm_per_pixel) {}
  std::vector<PatchRing> at(const ShapePose& pose);

 private:
  const Shape& shape_;
  double mm_, length_mm_ = 0;
  std::vector<double> values_;
  std::vector<GroundRing> outline_;
};

/// Free numbers of a pose, scaled so that 1 is a sensible step for each: kPlaceKnobs of the place, then the
/// proportions.
struct Knobs {
  static constexpr std::size_t kPlace = 4;       ///< middle, turn, length: as likely here as there
  static constexpr std::size_t kPlaceKnobs = 8;  ///< these and what an uncertain tilt does: squeeze, shear, lean

  double cell_px = 1;
  std::vector<double> pack(const ShapePose& pose, const Shape& shape) const;
  ShapePose unpack(const std::vector<double>& knobs, const ShapePose& like, const Shape& shape) const;
};

/// A pose far from the trade's drawing costs a little agreement: ties go to the plain shape.
double oddness(const std::vector<double>& knobs);

/// Boundary points with outward normals, `counts` of them spaced evenly around every ring from its first point: a
/// slightly changed pose gives the same points again, however many corners its curves are drawn with.
struct Rim {
  std::vector<PatchPoint> points, normals;
};
Rim rim_of(const std::vector<PatchRing>& rings, const std::vector<int>& counts);

}  // namespace lotwear
