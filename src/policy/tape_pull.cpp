#include "policy/tape_pull.hpp"

#include <algorithm>
#include <array>

namespace lotwear {

int tape_pull_class(Fraction removed) {
  if (!(removed.value > 0)) return 5;
  if (removed.value < 0.05) return 4;
  if (removed.value <= 0.15) return 3;
  if (removed.value <= 0.35) return 2;
  return removed.value <= 0.65 ? 1 : 0;
}

std::string_view removed_by_tape(int tape_pull_class) {
  constexpr std::array<std::string_view, 6> kRemoved = {"more than 65 %", "35 to 65 %",    "15 to 35 %",
                                                        "5 to 15 %",      "less than 5 %", "none"};
  return kRemoved.at(static_cast<std::size_t>(std::clamp(tape_pull_class, 0, 5)));
}

}  // namespace lotwear
