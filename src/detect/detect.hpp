#pragma once
// Photo -> PaintMap: where paint is or once was, before anything is known about the ground.
// One pass of the finder network (models/finder.onnx, OpenCV dnn on the CPU) over the whole photo at reduced size. It
// proposes where and which cause; outlines come from `marking`, numbers from `measure` at full resolution.

#include <filesystem>
#include <memory>
#include <opencv2/core/mat.hpp>

#include "capture/photo.hpp"

namespace lotwear {

/// All maps CV_32F, one size; cell (c, r) covers photo pixels [c, c+1) * photo_per_cell x [r, r+1) * photo_per_cell.
struct PaintMap {
  cv::Mat pavement, not_ground;                   ///< shares of the cell that are bare pavement / not pavement plane
  cv::Mat top_coat, older_coat;                   ///< paint on top, older coat laid bare
  cv::Mat lost_abraded, lost_flaked, lost_cracked;
  cv::Mat footprint;                              ///< chance that it was painted once: the five above, put right
  cv::Mat guess;                                  ///< the same before loss without coat in sight was put right: where to look again
  std::vector<cv::Mat> kinds;                     ///< by FinderKind, own (coarser) size, shares
  cv::Mat picture;                                ///< CV_8UC3, the photo reduced to the size of the maps, sRGB-encoded RGB
  double photo_per_cell = 1;
  double photo_per_kind_cell = 1;
};

/// Classes of PaintMap::kinds, in the network's order.
enum class FinderKind { none, line, stop_line, crosswalk, arrow, accessible_symbol, hatching, legend, yield_line, curb };
inline constexpr int kFinderKinds = 10;

/// The loaded network. Not for two threads at once: one Finder a thread.
class Finder {
 public:
  /// `models`: folder with finder.onnx and finder.json. Throws Failure when they are missing or damaged.
  explicit Finder(const std::filesystem::path& models);
  ~Finder();
  Finder(Finder&&) noexcept;
  Finder& operator=(Finder&&) noexcept;

  /// The network's map, put right by what is known of its habits (chance.hpp, grow_coats.hpp).
  PaintMap look(const Photo& photo);

 private:
  struct Network;
  std::unique_ptr<Network> network_;
};

}  // namespace lotwear
