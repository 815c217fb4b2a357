#include "app/nothing_painted.hpp"

namespace lotwear {

namespace {

constexpr Fraction kLeastRemaining{0.04};
// No true marking of 900 rendered scenes (19000.. to 23000..) is dropped by these, and three on photos of bare pavement
// and boards were: an interval that reaches 0, under a fifth left, a kind less sure than this.
constexpr Fraction kHardlyAny{0.2}, kGuessedKind{0.6};

}  // namespace

bool nothing_says_painted(const Condition& condition, Fraction kind_confidence) {
  const Interval& left = condition.remaining;
  if (left.value < kLeastRemaining && condition.any_coat < kLeastRemaining) return true;
  return kind_confidence < kGuessedKind && left.low.value <= 0 && left.value < kHardlyAny &&
         condition.any_coat < kHardlyAny;
}

}  // namespace lotwear
