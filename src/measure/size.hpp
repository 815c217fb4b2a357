#pragma once
// Footprint on the ground -> size, where the ground has a scale.

#include <optional>

#include "base/condition.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"

namespace lotwear {

std::optional<Size> size_of(const Footprint& footprint, const Ground& ground);

}  // namespace lotwear
