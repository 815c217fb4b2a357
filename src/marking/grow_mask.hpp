#pragma once
// Masks grown and shrunk by discs as large as strokes are wide. OpenCV looks at every pixel of the disc, here every row
// of it costs one look.

#include <opencv2/core/mat.hpp>

namespace lotwear {

/// What cv::dilate gives with a MORPH_ELLIPSE of `side` x `side`, and its usual border: beyond the mask is nothing.
///
/// mask  CV_8U, 0 or 255
/// side  pixels, odd
cv::Mat grown_by_disc(const cv::Mat& mask, int side);

/// What cv::erode gives with it: beyond the mask all is set.
cv::Mat shrunk_by_disc(const cv::Mat& mask, int side);

}  // namespace lotwear
