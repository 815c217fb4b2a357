#include "rendering/draw_parts.hpp"
namespace lotwear::rendering {
std::vector<ScenePlan> draw_walk(std::uint64_t seed, double megapixels, const std::vector<Shape>& shapes) {
  std::vector<ScenePlan> plans;
  for (std::uint64_t i = 0; i < 16; ++i)
    plans.push_back(draw_scene(Tier::plain, seed + i, megapixels, shapes));
  return plans;
}
}  // namespace lotwear::rendering
