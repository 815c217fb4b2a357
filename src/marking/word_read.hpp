#pragma once
// Which words of the trade a row of letters spells, and where they stand in it: every letter's strokes laid over the
// row's map, every word tried in every place. Words whose letters are partly gone are told by those that are left.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "marking/shapes.hpp"

namespace lotwear {

/// A row of letters seen from above, upright or head down.
struct RowMap {
  cv::Mat paint;               ///< CV_32F: 0 bare .. 1 once painted
  cv::Mat inside;              ///< CV_8U: 0 where the photo shows nothing
  double top = 0, height = 0;  ///< the letters' band, pixels
  double stroke = 0;           ///< usual width of a stroke, pixels
};

struct ReadWord {
  std::size_t word = 0;        ///< index into the words tried
  bool head_down = false;      ///< read with the map turned by half a turn
  double left = 0, right = 0;  ///< of its letters in the map as it is, pixels
  std::vector<double> values;  ///< proportions of the word's shape
  double seen = 0;             ///< share of its strokes that the map has
  double strange = 0;          ///< share of the paint between its ends that is none of its strokes'
  double lead = 0;             ///< over the best of the other words there, share of its strokes
};

/// Words from the first to the last; none where no word explains the paint.
std::vector<ReadWord> read_row(const RowMap& row, const std::vector<Shape>& words);

}  // namespace lotwear
