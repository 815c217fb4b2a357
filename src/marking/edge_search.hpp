#pragma once
// Where a straight (or slightly bent) edge lies in a patch: the line along which the brightness step adds up best. Worn
// places scatter their own edges, the painted edge lines them up; shadows cross it at other angles.

#include <opencv2/core/mat.hpp>

namespace lotwear {

/// Step of the paintness across: d/dy, smoothed by `sigma` pixels across and `along` pixels along x. CV_32F.
cv::Mat step_across(const cv::Mat& paintness, double sigma, double along);

struct EdgeGuess {
  int x0 = 0, x1 = 0;          ///< columns over which the edge runs
  double y0 = 0, y1 = 0;       ///< row at x0 and at x1 (corner convention)
  double window = 0;           ///< how far either end may move, pixels
  double prior_sigma = 0;      ///< how sure the guess is, pixels
  int sign = 1;                ///< +1: paint begins (step upward in y), -1: paint ends
  bool bend = true;            ///< allow a slight bow
};

struct FoundEdge {
  double y0 = 0, y1 = 0, bow = 0;   ///< row at x0, at x1; bow: extra rows half-way
  double support = 0;               ///< share of the columns with a clear step at the edge
  double strength = 0;              ///< mean capped step, paintness per pixel
  double scatter = 0;               ///< robust standard deviation of the columns' own edges around the line, pixels

  double at(double t) const { return y0 + (y1 - y0) * t + bow * 4 * t * (1 - t); }
};

FoundEdge search_edge(const cv::Mat& step, const cv::Mat& inside, const EdgeGuess& guess);

/// What a known edge shows of itself: support, strength and scatter. Of `guess` the columns, the sign and the window count,
/// which takes in the edge's bow.
void look_along(const cv::Mat& step, const cv::Mat& inside, const EdgeGuess& guess, FoundEdge& edge);

/// The least eased step that counts as seen: three times a phone photo's noise.
inline constexpr float kClearStep = 0.03F;
/// Paintness per pixel, eased: 0.12 is a clear step, and more adds little, so that shadows cannot outvote paint. Not cut off:
/// a flat top would leave the edge anywhere on it.
inline float eased_step(float v) {
  constexpr float kCap = 0.12F;
  return v > 0 ? v * kCap / (kCap + v) : 0.0F;
}

}  // namespace lotwear
