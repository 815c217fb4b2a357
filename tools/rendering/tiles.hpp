#pragma once
// Seamless textures, computed once and looked up at ground coordinates: everything irregular in a scene comes from
// them, so a spot of pavement looks the same from every camera.

#include <cmath>
#include <cstdint>
#include <vector>

namespace lotwear::rendering {

/// Whole part towards minus infinity; several times faster than std::floor without SSE4.
inline int whole_below(float v) {
  const int i = static_cast<int>(v);
  return i - (v < static_cast<float>(i) ? 1 : 0);
}

/// Smooth 1/f noise, mean 0, standard deviation 1; its largest features are `kLattice` texels.
struct SoftTile {
  static constexpr int kSize = 512, kLattice = 64;
  std::vector<float> v;

  /// At a place given in units of the largest feature.
  float operator()(float x, float y) const {
    x *= kLattice;
    y *= kLattice;
    const int ix = whole_below(x), iy = whole_below(y);
    const float fx = x - static_cast<float>(ix), fy = y - static_cast<float>(iy);
    const auto at = [&](int c, int r) {
      return v[static_cast<std::size_t>(((r & (kSize - 1)) * kSize) + (c & (kSize - 1)))];
    };
    const float top = at(ix, iy) + fx * (at(ix + 1, iy) - at(ix, iy));
    const float low = at(ix, iy + 1) + fx * (at(ix + 1, iy + 1) - at(ix, iy + 1));
    return top + fy * (low - top);
  }
};

/// Aggregate: stones of several sizes packed in binder. `rank` is the height as a rank 0..1 (so the share of the area
/// above a rank r is 1 - r), `tone` a value of its own for each stone, -1..1, 0 in the binder. Largest stones are about
/// `kStone` texels across.
struct StoneTile {
  static constexpr int kSize = 1024, kStone = 14;
  struct Spot {
    float rank, tone;
  };
  struct Packed {  ///< 4 MB fit the cache, 8 do not
    std::uint16_t rank;
    std::int16_t tone;
  };
  std::vector<Packed> v;

  Spot operator()(float x, float y) const {
    const int ix = whole_below(x), iy = whole_below(y);
    const float fx = x - static_cast<float>(ix), fy = y - static_cast<float>(iy);
    const int c0 = ix & (kSize - 1), c1 = (ix + 1) & (kSize - 1);
    const Packed *top = v.data() + (iy & (kSize - 1)) * kSize, *low = v.data() + ((iy + 1) & (kSize - 1)) * kSize;
    const float a = (1 - fx) * (1 - fy), b = fx * (1 - fy), c = (1 - fx) * fy, d = fx * fy;
    return {(a * top[c0].rank + b * top[c1].rank + c * low[c0].rank + d * low[c1].rank) * (1.0F / 65535),
            (a * top[c0].tone + b * top[c1].tone + c * low[c0].tone + d * low[c1].tone) * (1.0F / 32767)};
  }
};

/// Fracture: the plane split into chips. `dx`, `dy`: from the spot to its chip's middle; `own`: a value 0..1 for each
/// chip; `edge`: distance to the chip's border. Lengths in units of the usual chip size.
struct ChipTile {
  static constexpr int kSize = 1024, kChip = 32;
  struct Spot {
    float dx, dy, own, edge;
  };
  std::vector<Spot> v;

  const Spot& operator()(float x, float y) const {
    const int ix = whole_below(x * kChip), iy = whole_below(y * kChip);
    return v[static_cast<std::size_t>((iy & (kSize - 1)) * kSize + (ix & (kSize - 1)))];
  }
};

struct Tiles {
  SoftTile soft;
  StoneTile stones;
  ChipTile chips;
  std::vector<float> gauss;  ///< 65536 draws of the normal distribution, for sensor noise
};

/// Built at the first call, safe from any thread.
const Tiles& tiles();

}  // namespace lotwear::rendering
