#pragma once
// Classes of ISO 4628-5 for flaked paint.

#include "base/condition.hpp"
#include "base/units.hpp"

namespace lotwear {

/// share          of the footprint lost in flakes
/// typical_flake  largest dimension of the flakes, of the largest size numerous enough to be typical (ISO 4628-5:2016)
/// source         ISO 4628-5, from memory: quantity 0, 0.1, 0.3, 1, 3, 15 % of the area; size not visible, <= 1, <= 3,
/// <= 10,
///                <= 30, > 30 mm. The standard shows pictures; a share between two of them goes to the nearer one in
///                ratio.
FlakingGrade flaking_grade(Fraction share, Millimetres typical_flake);

}  // namespace lotwear
