#pragma once
// Straight stripes: a piece of the map taken apart into bars, worn-through bars joined again, edges refined on the photo.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "base/geometry.hpp"
#include "ground/ground.hpp"
#include "marking/patch.hpp"
#include "marking/pieces.hpp"

namespace lotwear {

/// A stripe on the pavement by its middle line and width, ground millimetres.
struct Bar {
  GroundPoint start, end;
  double width_mm = 0;
  double filled = 0;                 ///< share of the bar that the finder calls footprint
  std::array<double, kFinderKinds> votes{};
  PaintContrast contrast;
  double cell_mm = 0;
  bool start_cut = false, end_cut = false;   ///< that end leaves the photo
  bool start_seen = false, end_seen = false; ///< that end has been searched for and stays
  bool sure = false;                 ///< a large patch of coat in the shape of this one bar, whatever its edges show

  double length() const { return lotwear::length(end - start); }
  GroundPoint along() const { return (end - start) * (1 / std::max(length(), 1e-9)); }
};

/// Bars of one piece: one when the piece is a rectangle, several where stripes cross or touch.
struct PieceBars {
  std::vector<Bar> bars;
  double agreement = 0;              ///< intersection over union of the bars with the piece, 0..1
};
inline constexpr std::size_t kMostBars = 60;   ///< no piece has more
/// `most_bars`: a piece that reads as more of them than this may come back without any, which is found out sooner.
PieceBars bars_of(const Piece& piece, const PaintMap& paint, const Ground& ground, std::size_t most_bars = kMostBars);

/// Joins bars that are one stripe worn through: in line, equally wide, with a gap that the finder could not bridge.
bool same_paint(const PaintContrast& a, const PaintContrast& b);

std::vector<Bar> join_bars(std::vector<Bar> bars);

inline constexpr double kLeastEdgeSeen = 0.12;   ///< share of the long edges with a clear step; below it the photo shows no edge

/// The bar with its edges where the photo shows them.
struct FittedBar {
  Bar bar;
  GroundRing ring;                   ///< closed; long edges may be slightly bent (lens)
  bool curved = false;               ///< tells nothing of the plane, which is known by what is straight
  std::vector<GroundRing> strokes;   ///< of a broken line, in its order; empty for any other
  double gaps_mm = 0;                ///< length between the strokes, all of them together
  double edge_error_mm = 0;          ///< one standard deviation of a common shift of the edges
  double support = 0;                ///< share of the long edges' length where the photo shows an edge at the fit
};
/// One, or the two stripes of a double line that the finder's map runs together.
std::vector<FittedBar> refine_bar(const Bar& bar, const Photo& photo, const Ground& ground);

}  // namespace lotwear
