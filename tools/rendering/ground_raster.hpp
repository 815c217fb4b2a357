#pragma once
// The ground as the photo shows it, in millimetre cells: strips from near to far, each with cells about as large as the
// photo's pixels are there, so that the near ground is sharp and the far ground is not wasted work.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "rendering/camera.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

struct Span {
  int from = 0, to = 0;               ///< columns [from, to) that are worth computing
  double seen_from = 0, seen_to = 0;  ///< ground x between which this row's middle is in the photo
};

struct Strip {
  double cell_mm = 1, left_mm = 0, top_mm = 0;
  double seen_top_mm = 0, seen_bottom_mm = 0;  ///< ground y between which this strip is the one in use
  int cols = 0, rows = 0;
  std::vector<Span> spans;
  cv::Mat albedo;                  ///< CV_32FC3, linear; after lighting: radiance
  cv::Mat height;                  ///< CV_32F, millimetres
  cv::Mat rank;                    ///< CV_32F, 0 deepest pit .. 1 highest stone top
  cv::Mat crack, film, tyre, wet;  ///< CV_8U, 0..255 opacity; film is soil and tyre marks together
  /// CV_32FC3, noted by `WornMarking::paint` unless empty: shares of top coat, older coat, flaked; of abraded, cracked, 0.
  /// What shows an older coat counts as that and not as lost.
  cv::Mat coats, losses;

  double x_at(int col) const { return left_mm + (col + 0.5) * cell_mm; }
  double y_at(int row) const { return top_mm + (row + 0.5) * cell_mm; }
};

/// Empty strips over what the camera sees, up to `far_mm`.
std::vector<Strip> strips_for(const Camera& camera, double far_mm);

/// Pavement with everything that was there before the paint: stones, joints, patches, sealant, ghosts; and the opacity
/// planes of what came after it.
void lay_pavement(Strip& strip, const PavementPlan& plan);

/// What came after the paint: cracks, soil, tyre marks, oil, leaves, water.
void cover_pavement(Strip& strip, const PavementPlan& plan);

/// Rows of a soft noise field computed on a coarse grid: `feature_mm` across, along the pavement's own direction.
class CoarseField {
 public:
  CoarseField(const Strip& strip, const PavementPlan& plan, double feature_x_mm, double feature_y_mm, int which);
  float operator()(int row, int col) const {
    const float* a = grid_.ptr<float>(row / kStep) + col / kStep;
    const float* b = grid_.ptr<float>(row / kStep + 1) + col / kStep;
    const float fx = static_cast<float>(col % kStep) / kStep, fy = static_cast<float>(row % kStep) / kStep;
    const float top = a[0] + fx * (a[1] - a[0]), low = b[0] + fx * (b[1] - b[0]);
    return top + fy * (low - top);
  }

 private:
  static constexpr int kStep = 8;
  cv::Mat grid_;
};

}  // namespace lotwear::rendering
