#pragma once
// A small network that looks at a marking from above and tells, spot by spot, top coat, older coat and bare pavement
// apart, and flakes from worn stone tops. The older coat of the top coat's own colour is told by how it lies (duller or
// paler patches with the outlines of flakes, chips within them), which no single number shows. Trained on rendered and
// made-up markings: tools/coats.

#include <filesystem>
#include <memory>
#include <opencv2/core/mat.hpp>

namespace lotwear {

/// What the network says of a marking.
struct CoatAnswer {
  cv::Mat chances;     ///< CV_32FC3, size of the view: chance of bare pavement, top coat, older coat
  cv::Mat flaked;      ///< CV_32F, size of the view: chance that the top coat let go, where it is lost
  double layered = 0;  ///< 0 .. 1: the marking lies over an older coat that shows
};

/// The loaded network. For any number of threads at once: each call borrows a copy.
class CoatReader {
 public:
  /// `models`: folder with coats.onnx. Throws Failure when it is missing or damaged.
  explicit CoatReader(const std::filesystem::path& models);
  ~CoatReader();
  CoatReader(const CoatReader&) = delete;
  CoatReader& operator=(const CoatReader&) = delete;

  /// `input`: CoatView::input.
  CoatAnswer look(const cv::Mat& input) const;

 private:
  struct Shelf;
  std::unique_ptr<Shelf> shelf_;
};

}  // namespace lotwear
