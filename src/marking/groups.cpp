#include "marking/groups.hpp"

#include <algorithm>

#include "marking/together.hpp"

namespace lotwear {

std::vector<std::vector<std::size_t>> near_each_other(const std::vector<std::vector<GroundRing>>& rings, double reach_mm) {
  Together together(rings.size());
  const auto closest = [](const std::vector<GroundRing>& a, const std::vector<GroundRing>& b) {
    double best = 1e12;
    for (const GroundRing& ra : a) {
      for (const GroundPoint& p : ra) {
        for (const GroundRing& rb : b) {
          for (std::size_t i = 0; i < rb.size(); ++i) best = std::min(best, point_to_segment(p, rb[i], rb[(i + 1) % rb.size()]));
        }
      }
    }
    return best;
  };
  for (std::size_t i = 0; i < rings.size(); ++i) {
    for (std::size_t j = i + 1; j < rings.size(); ++j) {
      if (closest(rings[i], rings[j]) < reach_mm) together.join(i, j);
    }
  }
  std::vector<std::vector<std::size_t>> sets;
  std::vector<std::ptrdiff_t> set_of(rings.size(), -1);
  for (std::size_t i = 0; i < rings.size(); ++i) {
    const std::size_t root = together.of(i);
    if (set_of[root] < 0) {
      set_of[root] = static_cast<std::ptrdiff_t>(sets.size());
      sets.emplace_back();
    }
    sets[static_cast<std::size_t>(set_of[root])].push_back(i);
  }
  return sets;
}

}  // namespace lotwear
