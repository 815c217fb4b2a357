#pragma once
// How well an outline agrees with the finder's map.

#include <opencv2/core/mat.hpp>
#include <vector>

#include "marking/shape_pose.hpp"

namespace lotwear {

/// Agreement of filled rings with the map, both as shares: sum of minima over sum of maxima. Nothing is drawn: along
/// every row the rings' crossings bound stretches, and running sums of the map tell what lies in a stretch. Around the
/// map lies a margin half as wide again, bare of paint and inside the photo where the map's rim is: a shape that
/// reaches beyond the paint pays for it there too.
class MapAgreement {
 public:
  /// `footprint` CV_32F shares, `inside` CV_8U of the same size: 0 where the photo shows nothing.
  MapAgreement(const cv::Mat& footprint, const cv::Mat& inside);
  /// 0..1; not of one ring at a time, so that holes count.
  double of(const std::vector<PatchRing>& rings);

 private:
  /// Of a row's cells so far.
  struct Sum {
    float map = 0, seen = 0;
  };
  struct Crossing {
    float x = 0;
    int turn = 0;  ///< +1: into the ring
  };
  /// What cannot be seen explains nothing: of two drawings that fit alike, the one that shows more of itself is the
  /// better.
  static constexpr double kHiddenCost = 0.12;
  /// Pixels: cells that the outline runs through count as inside; with 0 a fifth more false alarms.
  static constexpr float kReach = 0.5F;

  void cross_rows(const PatchRing& ring, int inward);
  Sum sum_to(std::size_t row, float x) const;

  int cols_ = 0, map_rows_ = 0, margin_rows_ = 0;
  float reach_ = 0;
  std::vector<std::vector<Crossing>> rows_;
  std::vector<Sum> sums_;
  double total_ = 0;
};

/// `map` made so small that its long side has `pixels`.
cv::Mat shrunk(const cv::Mat& map, double pixels);

}  // namespace lotwear
