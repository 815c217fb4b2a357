#pragma once
// The value at a share (0..1) of the way through the sorted values, without sorting them all: the lower neighbour where
// the share falls between two. The values are left in another order; there must be at least one.

#include <algorithm>
#include <cstddef>
#include <vector>

namespace lotwear {

template <class T>
T quantile(std::vector<T>& values, double share) {
  const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

}  // namespace lotwear
