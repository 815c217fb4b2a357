#pragma once
// The tape-pull test that only a person on site can make.

#include <string_view>

#include "base/units.hpp"

namespace lotwear {

/// Class 5 (nothing came off) to 0.
///
/// removed  share of the scored lattice that came off with the tape
/// source   ASTM D3359 method B: 5 none, 4 under 5 %, 3 5-15 %, 2 15-35 %, 1 35-65 %, 0 over 65 %
int tape_pull_class(Fraction removed);

/// "15 to 35 %" for class 2; classes outside 0..5 count as the nearest.
std::string_view removed_by_tape(int tape_pull_class);

}  // namespace lotwear
