#include "marking/groups.hpp"

#include <algorithm>

#include "marking/together.hpp"

namespace lotwear {

namespace {

constexpr double kSlack = 1;  // millimetre, so that no rounding tells a pair apart that its outlines would not

struct Box {
  double left = 1e12, right = -1e12, top = 1e12, bottom = -1e12;
};

Box box_of(const std::vector<GroundRing>& rings) {
  Box box;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) {
      box.left = std::min(box.left, p.x), box.right = std::max(box.right, p.x);
      box.top = std::min(box.top, p.y), box.bottom = std::max(box.bottom, p.y);
    }
  }
  return box;
}

/// Along x or along y, whichever is more: outlines are at least that far apart.
double apart(const Box& a, const Box& b) {
  return std::max({a.left - b.right, b.left - a.right, a.top - b.bottom, b.top - a.bottom});
}

}  // namespace

std::vector<std::vector<std::size_t>> near_each_other(const std::vector<std::vector<GroundRing>>& rings, double reach_mm) {
  Together together(rings.size());
  const auto near = [&](const std::vector<GroundRing>& a, const std::vector<GroundRing>& b) {
    for (const GroundRing& ra : a) {
      for (const GroundPoint& p : ra) {
        for (const GroundRing& rb : b) {
          for (std::size_t i = 0; i < rb.size(); ++i) {
            if (point_to_segment(p, rb[i], rb[(i + 1) % rb.size()]) < reach_mm) return true;
          }
        }
      }
    }
    return false;
  };
  std::vector<Box> boxes;
  for (const auto& one : rings) boxes.push_back(box_of(one));
  for (std::size_t i = 0; i < rings.size(); ++i) {
    for (std::size_t j = i + 1; j < rings.size(); ++j) {
      // outlines have points by the hundred: most pairs are told by their boxes, or through a third one
      if (together.of(i) == together.of(j) || apart(boxes[i], boxes[j]) > reach_mm + kSlack) continue;
      if (near(rings[i], rings[j])) together.join(i, j);
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
