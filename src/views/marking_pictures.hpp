#pragma once
// The three pictures of one marking, before they become files. All small: no copy of a whole photo is made.

#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "base/geometry.hpp"
#include "capture/photo.hpp"
#include "measure/measure.hpp"
#include "views/palette.hpp"

namespace lotwear {

/// Whether a plan view's millimetres are real or only proportions.
enum class PlanScale { nominal, true_millimetres };

/// True millimetres where lengths are known to 10 % (one standard deviation): a scale sheet, a stripe's width or a
/// shape of the trade. A height of the camera by guess gives 17 % and no bar: a drawn bar gets measured with.
PlanScale plan_scale(const Ground& ground);

/// The marking in its surroundings: part of the photo, in sRGB, with the outline as a thin light line in a dark one (it
/// shows on any ground and leaves the paint to be seen) and the id. CV_8UC3 RGB.
/// outline  photo pixels, may reach outside
cv::Mat photo_picture(const Photo& photo, const std::vector<ImageRing>& outline, const std::string& id);

/// Seen from straight above, as the photo shows it, over a scale bar (metric and feet) where millimetres are real.
/// CV_8UC3 RGB.
cv::Mat plan_picture(const LossMap& map, PlanScale scale);

/// Numbers into `inks`, one a pixel; few colours keep the file small and the writing quick.
struct IndexedPicture {
  cv::Mat index;          ///< CV_8U
  std::vector<Ink> inks;  ///< at most 256
};

/// What is left and what was lost, by cause: fills and patterns over a grey plan view, with a key of what occurs.
IndexedPicture loss_picture(const LossMap& map);

/// PNG file of an indexed picture.
std::string png_bytes(const IndexedPicture& picture);

}  // namespace lotwear
