#pragma once
// Millimetres without a scale sheet: what is seen is compared with the usual sizes of the trade, all markings together.

#include <optional>
#include <string>
#include <vector>

#include "base/kinds.hpp"
#include "ground/ground.hpp"

namespace lotwear {

/// One size read off the pavement in the ground's nominal millimetres.
struct SizeSeen {
  Kind kind = Kind::other;
  bool is_width = true;      ///< stripe width; otherwise the overall length of a shape
  double nominal_mm = 0;
  double error = 0.03;       ///< one standard deviation, as a share
};

struct ScaleFound {
  double factor = 1;         ///< true millimetres over nominal ones
  Fraction error{};
  std::string source;        ///< stripe-width or shape: what weighed most
};

/// Nothing when no size says anything. `ground.scale_error` is the prior's width (a person's holding height).
std::optional<ScaleFound> find_scale(const Ground& ground, const std::vector<SizeSeen>& seen);

}  // namespace lotwear
