#pragma once
// Two stripes beside each other that the finder's map runs together into one bar.

#include <optional>

#include "marking/bar_patch.hpp"

namespace lotwear {

/// The strip of pavement between the two stripes of a double line, by shares of the way from the upper to the lower
/// edge: along most of the length it is bare, and both stripes beside it are not.
struct BareStrip {
  double begins = 0, ends = 0;
  int x0 = 0, x1 = 0;  ///< columns between which the photo is fine enough to show it
};

/// Nothing where the bar is one stripe, or the photo too coarse to tell.
std::optional<BareStrip> bare_strip(const BarPatch& b, const LongEdges& edges, const Ground& ground);

/// An edge of the strip, searched where the photo shows it, near where the profile has it, and carried on to the line's
/// ends. `share` of the way between the outer edges; `sign` +1: paint begins there.
FoundEdge inner_edge(const BarPatch& b, const LongEdges& outer, const BareStrip& strip, double share, int sign);

}  // namespace lotwear
