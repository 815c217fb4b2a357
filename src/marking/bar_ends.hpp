#pragma once
// Where a bar ends along its length, in its own patch. `sign` +1: its start, -1: its end.

#include <optional>

#include "marking/bar_patch.hpp"

namespace lotwear {

struct BarEnd {
  double x = 0;        ///< column, half-way between the long edges
  double tilt = 0;     ///< columns a row
  double support = 0;  ///< share of the width with a clear step
};

/// The end near the one on the finder's map, `x_mapped`: a clear step, beyond which lies no more paint of the bar.
BarEnd end_near(const BarPatch& b, const LongEdges& edges, double x_mapped, int sign);

/// The end of a bar that the finder has go on to the photo's border, where the photo shows it end before: a clear step
/// over the whole width, paint on one side of it and pavement on the other. The finder's haze fills what little lies
/// between.
std::optional<BarEnd> end_within(const BarPatch& b, const LongEdges& edges, int sign);

}  // namespace lotwear
