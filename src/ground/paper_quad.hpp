#pragma once
// The scale sheet by its paper: a bright quadrilateral that bears the sheet's pattern. All of the pattern is compared
// at once, so a sheet is told at half the size at which one of its fiducials alone can be read, in dappled shade and
// burnt out too. Its four corners must be in view.

#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>

#include "base/geometry.hpp"
#include "ground/sheet.hpp"

namespace lotwear {

struct PaperQuad {
  Paper paper = Paper::letter;
  std::array<ImagePoint, 4> corners;  ///< pixels of the picture, to about one; from the sheet's top-left one clockwise
  double likeness = 0;                ///< correlation with the printed pattern, up to 1
};

/// `grey`: CV_8U, a reduction of the photo.
std::optional<PaperQuad> find_paper(const cv::Mat& grey);

}  // namespace lotwear
