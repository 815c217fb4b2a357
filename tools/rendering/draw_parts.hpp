#pragma once
// The parts of a scene, each drawn from its own stream of random numbers.

#include "rendering/camera.hpp"
#include "rendering/groups.hpp"
#include "rendering/scene.hpp"

namespace lotwear::rendering {

CameraPlan draw_camera(Random& random, Tier tier, double megapixels);
PavementPlan draw_pavement(Random& random, Tier tier, std::optional<Pavement> wanted);
/// Cracks, sealant, patches, oil, leaves, ghosts, tyre marks, water, within `reach_mm` of a place.
void draw_things(Random& random, Tier tier, GroundPoint about, double reach_mm, const std::vector<Shape>& shapes,
                 PavementPlan& pavement);
LightPlan draw_light(Random& random, Tier tier, const CameraPlan& camera, GroundPoint about, double reach_mm,
                     std::optional<double> sun_turn);
/// Sensor and development, once it is known how dark the light is.
void draw_development(Random& random, Tier tier, const LightPlan& light, CameraPlan& camera);

/// The camera a step aside, as high, with `seen` still in the photo; where there is no such place, the first one.
CameraPlan step_aside(Random& random, const CameraPlan& first, const MarkingPlan& seen);

enum class Age { fresh, abraded, flaking, layered, cracked, faded };
WearPlan draw_wear(Random& random, Tier tier, Age age, GroundPoint about);
CoatPlan draw_coat(Random& random, Colour colour);
/// Wear and, for `layered`, an older coat.
void age_marking(Random& random, Tier tier, Age age, MarkingPlan& marking);

/// Proportions near the usual ones or, one time in three, anywhere in the range as a home-made stencil would have them.
std::vector<double> draw_proportions(Random& random, const Shape& shape);
const Shape& shape_named(const std::vector<Shape>& shapes, const std::string& name);
std::vector<GroundRing> placed(const std::vector<GroundRing>& rings, double turn, GroundPoint at);
GroundPoint middle_of(const std::vector<GroundRing>& rings);
/// Share of the rings' area that the photo shows.
double share_in_view(const std::vector<GroundRing>& rings, const Camera& camera);
/// Evenly spread points inside the rings, about `count` of them.
std::vector<GroundPoint> points_inside(const std::vector<GroundRing>& rings, int count);

/// What a scene should show, where it is not left to chance.
struct Request {
  Wanted wanted;
  std::optional<Age> age;  ///< of the first marking
  std::optional<Pavement> pavement;
  std::optional<bool> sheet;
  std::optional<double> sun_turn;
  bool whole = false;  ///< the first marking is to be in the photo altogether
  bool alone = false;  ///< no strays beside the group
};

/// Markings and the camera that sees them.
void draw_markings(Random& random, Tier tier, const std::vector<Shape>& shapes, const Request& request,
                   ScenePlan& scene);
ScenePlan draw_requested(Tier tier, std::uint64_t seed, double megapixels, const std::vector<Shape>& shapes,
                         const Request& request);

}  // namespace lotwear::rendering
