#pragma once
#include <algorithm>

namespace lotwear::rendering {

/// 0 at `from` and before, 1 at `to` and beyond, smooth between.
inline float ramp(float from, float to, float at) {
  const float t = std::clamp((at - from) / (to - from), 0.0F, 1.0F);
  return t * t * (3 - 2 * t);
}

}  // namespace lotwear::rendering
