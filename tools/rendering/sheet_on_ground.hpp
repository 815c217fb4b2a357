#pragma once
// The printed scale sheet as a thing that lies on the pavement.

#include <optional>

#include "rendering/ground_raster.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

/// A place beside the first marking where the sheet is whole in view and on no paint; nothing when there is none.
std::optional<SheetPlan> place_sheet(Random& random, const ScenePlan& scene);

void lay_sheet(Strip& strip, const SheetPlan& plan);

}  // namespace lotwear::rendering
