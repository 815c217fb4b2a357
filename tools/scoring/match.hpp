#pragma once
// Which marking of a survey is which marking of the truth.

#include <opencv2/core/types.hpp>
#include <optional>
#include <vector>

#include "base/geometry.hpp"

namespace lotwear::scoring {

/// Outlines as the pixels they cover, inside the photo.
class Cover {
 public:
  Cover(const std::vector<ImageRing>& rings, cv::Size photo);
  double area() const { return area_; }
  /// Pixels both cover.
  double shared(const Cover& other) const;

 private:
  cv::Rect box_;
  std::vector<unsigned char> inside_;  ///< row by row over the box
  double area_ = 0;
};

/// Intersection over union.
double overlap(const Cover& a, const Cover& b);

struct Pair {
  std::size_t truth = 0, marking = 0;
  double overlap = 0;
};

/// Best overlaps first, each outline once, none below `least`.
std::vector<Pair> match(const std::vector<Cover>& truths, const std::vector<Cover>& markings, double least);

/// Markings that lie on nothing: not matched, and less than `least` of their area on any truth (counted or not) taken
/// together.
std::vector<std::size_t> false_alarms(const std::vector<Cover>& truths, const std::vector<Cover>& markings,
                                      const std::vector<Pair>& pairs, double least);

}  // namespace lotwear::scoring
