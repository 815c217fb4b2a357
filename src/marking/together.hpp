#pragma once
// Sets that grow together pair by pair.

#include <algorithm>
#include <numeric>
#include <vector>

namespace lotwear {

/// The set's name is its smallest member's index.
class Together {
 public:
  explicit Together(std::size_t n) : root_(n) { std::iota(root_.begin(), root_.end(), std::size_t{0}); }
  std::size_t of(std::size_t i) {
    while (root_[i] != i) i = root_[i];
    return i;
  }
  void join(std::size_t a, std::size_t b) {
    const std::size_t ra = of(a), rb = of(b);
    root_[std::max(ra, rb)] = std::min(ra, rb);
  }

 private:
  std::vector<std::size_t> root_;
};

}  // namespace lotwear
