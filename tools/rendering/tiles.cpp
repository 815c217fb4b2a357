#include "rendering/tiles.hpp"

#include <algorithm>
#include <numeric>

#include "rendering/random.hpp"

namespace lotwear::rendering {

namespace {

float smooth(float t) { return t * t * t * (t * (t * 6 - 15) + 10); }

/// Gradient noise (Perlin 1985) on a lattice that wraps after `cells`.
class Gradients {
 public:
  Gradients(int cells, std::uint64_t seed) : cells_(cells), gx_(static_cast<std::size_t>(cells * cells)), gy_(gx_) {
    Random random(seed);
    for (std::size_t i = 0; i < gx_.size(); ++i) {
      const double angle = random.between(0, 2 * std::numbers::pi);
      gx_[i] = static_cast<float>(std::cos(angle));
      gy_[i] = static_cast<float>(std::sin(angle));
    }
  }
  float operator()(float x, float y) const {
    const int ix = whole_below(x), iy = whole_below(y);
    const float fx = x - static_cast<float>(ix), fy = y - static_cast<float>(iy);
    const auto corner = [&](int c, int r) {
      const std::size_t i = static_cast<std::size_t>(((iy + r) % cells_) * cells_ + (ix + c) % cells_);
      return gx_[i] * (fx - static_cast<float>(c)) + gy_[i] * (fy - static_cast<float>(r));
    };
    const float u = smooth(fx), w = smooth(fy);
    const float top = corner(0, 0) + u * (corner(1, 0) - corner(0, 0));
    const float low = corner(0, 1) + u * (corner(1, 1) - corner(0, 1));
    return top + w * (low - top);
  }

 private:
  int cells_;
  std::vector<float> gx_, gy_;
};

SoftTile make_soft() {
  constexpr int size = SoftTile::kSize;
  SoftTile tile{std::vector<float>(static_cast<std::size_t>(size * size), 0.0F)};
  float amplitude = 1;
  for (int cells = size / SoftTile::kLattice, octave = 0; octave < 5; ++octave, cells *= 2, amplitude *= 0.55F) {
    const Gradients noise(cells, 100 + static_cast<std::uint64_t>(octave));
    const float step = static_cast<float>(cells) / size;
    for (int r = 0; r < size; ++r) {
      for (int c = 0; c < size; ++c) {
        tile.v[static_cast<std::size_t>(r * size + c)] +=
            amplitude * noise(static_cast<float>(c) * step, static_cast<float>(r) * step);
      }
    }
  }
  double sum = 0, squares = 0;
  for (const float f : tile.v)
    sum += static_cast<double>(f);
  const double mean = sum / static_cast<double>(tile.v.size());
  for (const float f : tile.v)
    squares += (static_cast<double>(f) - mean) * (static_cast<double>(f) - mean);
  const double deviation = std::sqrt(squares / static_cast<double>(tile.v.size()));
  for (float& f : tile.v)
    f = static_cast<float>((static_cast<double>(f) - mean) / deviation);
  return tile;
}

struct Seed {
  float x, y, own, other;
};

/// One seed a lattice cell, jittered, wrapping.
std::vector<Seed> scattered(int cells, float jitter, std::uint64_t seed) {
  Random random(seed);
  std::vector<Seed> seeds;
  for (int r = 0; r < cells; ++r) {
    for (int c = 0; c < cells; ++c) {
      const double x = c + 0.5 + static_cast<double>(jitter) * (random.share() - 0.5);
      const double y = r + 0.5 + static_cast<double>(jitter) * (random.share() - 0.5);
      seeds.push_back({static_cast<float>(x), static_cast<float>(y), static_cast<float>(random.share()),
                       static_cast<float>(random.share())});
    }
  }
  return seeds;
}

struct Nearest {
  float first = 1e9F, second = 1e9F, dx = 0, dy = 0;
  const Seed* seed = nullptr;
};

Nearest nearest(const std::vector<Seed>& seeds, int cells, float x, float y, float stretch) {
  const int ix = static_cast<int>(x), iy = static_cast<int>(y);
  Nearest found;
  for (int r = iy - 1; r <= iy + 1; ++r) {
    for (int c = ix - 1; c <= ix + 1; ++c) {
      const int wr = (r + cells) % cells, wc = (c + cells) % cells;
      const Seed& seed = seeds[static_cast<std::size_t>(wr * cells + wc)];
      const float dx = seed.x + static_cast<float>(c - wc) - x, dy = seed.y + static_cast<float>(r - wr) - y;
      // stones are not round: each is stretched along its own direction
      const float angle = seed.other * 6.2831853F, along = dx * std::cos(angle) + dy * std::sin(angle);
      const float d = std::sqrt(dx * dx + dy * dy + stretch * along * along);
      if (d < found.first) {
        found = {d, found.first, dx, dy, &seed};
      } else {
        found.second = std::min(found.second, d);
      }
    }
  }
  return found;
}

void to_ranks(std::vector<StoneTile::Spot>& spots) {
  float low = 1e9F, high = -1e9F;
  for (const auto& s : spots)
    low = std::min(low, s.rank), high = std::max(high, s.rank);
  constexpr int bins = 8192;
  std::vector<double> below(bins + 1, 0.0);
  const float to_bin = static_cast<float>(bins - 1) / (high - low);
  for (const auto& s : spots)
    ++below[static_cast<std::size_t>((s.rank - low) * to_bin) + 1];
  std::partial_sum(below.begin(), below.end(), below.begin());
  const double whole = static_cast<double>(spots.size());
  for (auto& s : spots) {
    const float at = (s.rank - low) * to_bin;
    const std::size_t bin = static_cast<std::size_t>(at);
    const double part = static_cast<double>(at) - static_cast<double>(bin);
    s.rank = static_cast<float>((below[bin] + part * (below[bin + 1] - below[bin])) / whole);
  }
}

StoneTile make_stones() {
  constexpr int size = StoneTile::kSize;
  std::vector<StoneTile::Spot> spots(static_cast<std::size_t>(size * size));
  const int large_cells = size / StoneTile::kStone, middle_cells = size / 8, small_cells = size / 4;
  const auto large = scattered(large_cells, 0.95F, 21), middle = scattered(middle_cells, 0.95F, 22),
             small = scattered(small_cells, 0.95F, 23);
  const Gradients sand(size / 2, 24), rough(size / 8, 25);
  for (int r = 0; r < size; ++r) {
    for (int c = 0; c < size; ++c) {
      const float x = static_cast<float>(c) / size, y = static_cast<float>(r) / size;
      float height = 0.10F * sand(x * (size / 2), y * (size / 2)) + 0.12F * rough(x * (size / 8), y * (size / 8));
      float tone = 0;
      const auto pack = [&](const std::vector<Seed>& seeds, int cells, float share, float top) {
        const Nearest n = nearest(seeds, cells, x * static_cast<float>(cells), y * static_cast<float>(cells), 0.8F);
        if (n.seed->own > share) return;
        const float rim = std::min(1.0F, (n.second - n.first) * 2.6F);  // 0 at the border with the next stone
        const float body = top * (0.75F + 0.5F * n.seed->other) * rim * (1.15F - 0.45F * n.first);
        if (body < 0.12F) return;
        if (body + 0.1F * height > height) {
          height = body + 0.35F * height;
          tone = n.seed->own / share * 2 - 1;
        }
      };
      pack(small, small_cells, 0.55F, 0.55F);
      pack(middle, middle_cells, 0.55F, 0.85F);
      pack(large, large_cells, 0.55F, 1.0F);
      spots[static_cast<std::size_t>(r * size + c)] = {height, tone};
    }
  }
  to_ranks(spots);
  StoneTile tile;
  for (const StoneTile::Spot& s : spots) {
    tile.v.push_back({static_cast<std::uint16_t>(s.rank * 65535), static_cast<std::int16_t>(s.tone * 32767)});
  }
  return tile;
}

ChipTile make_chips() {
  constexpr int size = ChipTile::kSize, cells = size / ChipTile::kChip;
  ChipTile tile{std::vector<ChipTile::Spot>(static_cast<std::size_t>(size * size))};
  const auto seeds = scattered(cells, 1.0F, 31);
  const Gradients bend(cells * 2, 32), bend_too(cells * 2, 33);
  for (int r = 0; r < size; ++r) {
    for (int c = 0; c < size; ++c) {
      // borders of real flakes are not straight: look the chip up at a bent place
      const float x = static_cast<float>(c) / ChipTile::kChip, y = static_cast<float>(r) / ChipTile::kChip;
      const float bx = x + 0.22F * bend(x * 2, y * 2), by = y + 0.22F * bend_too(x * 2, y * 2);
      const auto wrap = [](float v) { return v < 0 ? v + cells : v >= cells ? v - cells : v; };
      const Nearest n = nearest(seeds, cells, wrap(bx), wrap(by), 0.0F);
      tile.v[static_cast<std::size_t>(r * size + c)] = {n.dx, n.dy, n.seed->own, n.second - n.first};
    }
  }
  return tile;
}

}  // namespace

const Tiles& tiles() {
  static const Tiles all = [] {
    Tiles made{make_soft(), make_stones(), make_chips(), std::vector<float>(65536)};
    Random random(41);
    for (float& g : made.gauss)
      g = static_cast<float>(random.normal());
    return made;
  }();
  return all;
}

}  // namespace lotwear::rendering
