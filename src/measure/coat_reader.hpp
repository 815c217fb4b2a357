#pragma once
// Two small networks that look at a marking from above. One tells top coat, older coat and bare pavement apart, spot by
// spot: the older coat of the top coat's own colour is told by how it lies (duller or paler patches with the outlines
// of flakes, chips within them), which no single number shows. The other tells flakes from worn stone tops; it has
// learned longer, and in doing so to see older coats in leaf shadow, so it is not asked for these. Trained on rendered
// and made-up markings: tools/coats.

#include <filesystem>
#include <memory>
#include <opencv2/core/mat.hpp>

namespace lotwear {

/// What the networks say of a marking.
struct CoatAnswer {
  cv::Mat chances;     ///< CV_32FC3, size of the view: chance of bare pavement, top coat, older coat
  cv::Mat flaked;      ///< CV_32F, size of the view: chance that the top coat let go, where it is lost
  double layered = 0;  ///< 0 .. 1: the marking lies over an older coat that shows
};

/// The loaded networks. For any number of threads at once: each call borrows copies.
class CoatReader {
 public:
  /// `models`: folder with coats.onnx and flakes.onnx. Throws Failure when one is missing or damaged.
  explicit CoatReader(const std::filesystem::path& models);
  ~CoatReader();
  CoatReader(const CoatReader&) = delete;
  CoatReader& operator=(const CoatReader&) = delete;

  /// `input`: CoatView::input.
  CoatAnswer look(const cv::Mat& input) const;

 private:
  struct Shelf;
  std::unique_ptr<Shelf> coats_, flakes_;
};

}  // namespace lotwear
