#pragma once
// Random numbers that are the same on every machine: the standard library's distributions are not.

#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <vector>

namespace lotwear::rendering {

/// SplitMix64 (Steele, Lea and Flood 2014) seeds and mixes; good enough to draw scenes from.
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(mix(seed + 0x9e3779b97f4a7c15ULL)) {}
  /// An independent stream for one part of a scene, so that a change in one part leaves the others as they were.
  Random part(std::uint64_t which) const { return Random(mix(state_ ^ mix(which + 0x51ed270b0a1f39c1ULL))); }

  std::uint64_t bits() {
    state_ += 0x9e3779b97f4a7c15ULL;
    return mix(state_);
  }
  double share() { return static_cast<double>(bits() >> 11) * 0x1.0p-53; }  ///< [0, 1)
  double between(double low, double high) { return low + (high - low) * share(); }
  int whole(int low, int high) { return low + static_cast<int>(share() * (high - low + 1)); }  ///< both ends included
  bool chance(double probability) { return share() < probability; }
  double sign() { return chance(0.5) ? 1.0 : -1.0; }
  double normal() {
    const double radius = std::sqrt(-2 * std::log(1 - share()));
    return radius * std::cos(2 * std::numbers::pi * share());
  }
  template <class T>
  const T& pick(const std::vector<T>& from) {
    return from[static_cast<std::size_t>(share() * static_cast<double>(from.size()))];
  }
  /// Index drawn in proportion to the weights.
  std::size_t weighted(const std::vector<double>& weights) {
    double sum = 0;
    for (const double w : weights)
      sum += w;
    double at = share() * sum;
    for (std::size_t i = 0; i + 1 < weights.size(); ++i) {
      if (at < weights[i]) return i;
      at -= weights[i];
    }
    return weights.size() - 1;
  }

 private:
  static std::uint64_t mix(std::uint64_t z) {
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
  }
  std::uint64_t state_;
};

}  // namespace lotwear::rendering
