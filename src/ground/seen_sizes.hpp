#pragma once
// What the sizes of painted things say about the camera. Stripes of one kind in one photo are mostly equally wide, and
// mostly as wide as the trade paints them; a symbol has about its drawing's proportions. Under a wrong tilt the far
// stripe comes out wider than the near one; under a wrong height all are too wide or too narrow. Both are one
// likelihood: the common size of a family and the camera's height are summed over, never fixed on the way.

#include <opencv2/core/types.hpp>
#include <optional>
#include <vector>

#include "base/geometry.hpp"
#include "ground/view.hpp"

namespace lotwear {

/// One size of the trade: log-normal about `mm`.
struct UsualSize {
  double mm = 0, share = 1;
  double spread = 0.03;  ///< one standard deviation, as a share
};

/// Two photo points a size apart. With an axis only the distance across it counts: the width of a stripe.
struct SizeSeen {
  struct Axis {
    ImagePoint from, to;
  };
  ImagePoint from, to;
  std::optional<Axis> axis;
  double error = 0.03;  ///< one standard deviation of what was seen, as a share
  bool cut = false;     ///< the photo ends before the thing does: it is at least so large
};

/// Things of one kind in one photo, which one crew painted in one size.
struct SizeFamily {
  std::vector<UsualSize> usual;
  double unusual = 0.1;  ///< chance that the common size is none of them
  double alike = 0.8;    ///< share of the things that have the common size; any other has a size of its own
  double spread = 0.02;  ///< how exactly one crew repeats a size, as a share
  bool is_width = true;  ///< a stripe's; otherwise the length of a shape
  std::vector<SizeSeen> seen;
};

/// Width over length of a shape.
struct ProportionSeen {
  ImageRing outline;
  ImagePoint tail, tip;             ///< its long axis
  double usual = 1, spread = 0.25;  ///< width over length; one standard deviation, as a share
};

struct SizesSeen {
  std::vector<SizeFamily> families;
  std::vector<ProportionSeen> proportions;
  bool empty() const { return families.empty() && proportions.empty(); }
};

/// What is left of the camera's height once sizes were seen under a pose.
struct HeightBelief {
  double log_likelihood = 0;  ///< of the sizes, all heights counted
  double middle = 0;          ///< median of the logarithm of millimetres
  double mean = 0, variance = 0;
};

class SizeLikelihood {
 public:
  /// `height`, `sigma`: logarithm of millimetres before sizes are seen, normal.
  SizeLikelihood(SizesSeen seen, double height, double sigma);

  /// `view`: its height does not count.
  HeightBelief of(const View& view, cv::Size photo) const;

 private:
  double proportions(const Ground& ground) const;

  SizesSeen seen_;
  double height_ = 0, sigma_ = 0;
  std::vector<std::vector<double>> usual_;  ///< a family's density of log sizes on the grid
};

}  // namespace lotwear
