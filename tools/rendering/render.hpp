#pragma once
// A scene plan -> a photo and the truth about it. The truth comes from the raster, never from the picture.

#include <optional>
#include <string>
#include <vector>

#include "base/condition.hpp"
#include "rendering/scene.hpp"
#include "rendering/true_layers.hpp"

namespace lotwear::rendering {

struct MarkingTruth {
  std::string id;
  Kind kind = Kind::other;
  Colour colour = Colour::other;
  Surface surface = Surface::other;
  std::optional<Colour> older_colour;
  std::string shape;
  double remaining = 0, any_coat = 0, older = 0, abraded = 0, flaked = 0, cracked = 0, faded = 0,
         soiled = 0;                 ///< shares
  std::vector<ImageRing> footprint;  ///< pixels of the upright photo, through the lens; may reach past its edge
  double area_m2 = 0, area_in_frame_m2 = 0, length_m = 0, share_in_frame = 0;
  double painted_m2 = 0;  ///< counted on the raster, inside the frame
  Action action = Action::no_action;
  bool near_threshold = false;  ///< a deciding share within 3 points of its threshold
  bool count = true;  ///< false: neither demanded nor a false alarm: under 60 % in frame, or under 10 px wide at 12 MP
};

struct SceneTruth {
  std::string photo;
  Tier tier = Tier::clear;
  std::uint64_t seed = 0;
  int width = 0, height = 0;
  GroundFromImage ground_from_image;  ///< without lens distortion
  double distortion = 0, focal_px = 0, tilt_deg = 0, stand_mm = 0;
  bool sheet = false;
  std::vector<MarkingTruth> markings;
};

struct Rendered {
  std::string photo;  ///< bytes of the JPEG file
  SceneTruth truth;
  std::optional<TrueLayers> layers;  ///< where asked for
};

enum class Layers { left_out, drawn };
Rendered render(const ScenePlan& plan, Layers layers = Layers::left_out);

/// What the action policy asks for at these true values, with the default thresholds.
Action expected_action(const MarkingTruth& truth);
bool near_a_threshold(const MarkingTruth& truth);

std::string truth_text(const SceneTruth& truth);
/// Throws Failure naming the file when it cannot be understood.
SceneTruth truth_from_text(const std::string& text, const std::string& file);

}  // namespace lotwear::rendering
