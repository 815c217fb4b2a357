#pragma once
// Paint on the ground and what became of it. Each cell of the raster has a share of fresh paint, and a share lost to
// each cause; the truth is the sum over the cells inside the photo.

#include <opencv2/core/mat.hpp>

#include "rendering/ground_raster.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// Sums over the painted cells inside the photo; areas in square millimetres.
struct Counts {
  double painted = 0, top = 0, older = 0, abraded = 0, flaked = 0, cracked = 0, soiled = 0;
  double pavement[3] = {0, 0, 0}, pavement_cells = 0;  ///< mean albedo of bare ground beside the marking
};

/// A marking made ready: what depends on the whole of it (how high the thresholds are for the wanted losses) is settled
/// here, so that the same marking wears the same in every photo.
class WornMarking {
 public:
  /// `cut`: rings that stay free of this coat (the symbol on a field).
  WornMarking(const MarkingPlan& plan, const PavementPlan& pavement, const std::vector<GroundRing>& cut);

  /// Paints onto the strip and adds to `counts`.
  void paint(Strip& strip, Counts& counts) const;

  /// The top coat's albedo as it is now.
  Rgb coat_now() const { return coat_now_; }

 private:
  float inside_mm(double x, double y) const;  ///< distance to the outline, positive inside
  float flake_value(float x, float y, float inside, float& own) const;
  float crack_value(float x, float y) const;  ///< distance to the nearest crack in the paint, millimetres
  float abrasion_gain(float x, float y) const;
  void paint_row(Strip& strip, int row, const cv::Rect& part, const float* inside, const float* older, float* flaked,
                 float* present, Counts& counts) const;

  const MarkingPlan& plan_;
  const PavementPlan& pavement_;
  std::vector<GroundRing> cut_, older_rings_;
  float shift_ = 0;
  Rgb coat_now_, older_now_;
  cv::Mat distance_;  ///< CV_32F, millimetres, on a coarse grid over the marking
  double grid_mm_ = 4, grid_left_ = 0, grid_top_ = 0;
  float flake_above_ = 1e9F, abrasion_scale_ = 0, crack_field_above_ = 1e9F;
};

}  // namespace lotwear::rendering
