#pragma once
// A scene as plain values, drawn from a seed and a tier: what lies on the ground, how it wore, how it is lit, who looks
// at it. Ground millimetres: x right, y down seen from above, the camera stands near (0, 0) and looks towards -y.

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/geometry.hpp"
#include "base/kinds.hpp"
#include "ground/sheet.hpp"
#include "marking/shapes.hpp"
#include "rendering/random.hpp"

namespace lotwear::rendering {

enum class Tier { clear, plain, hard };
inline constexpr std::array<std::string_view, 3> kTierWords = {"clear", "plain", "hard"};

/// Linear light, sRGB primaries; an albedo when it is a material's colour.
struct Rgb {
  float r = 0, g = 0, b = 0;
  friend Rgb operator*(Rgb a, float by) { return {a.r * by, a.g * by, a.b * by}; }
  friend Rgb operator+(Rgb a, Rgb b) { return {a.r + b.r, a.g + b.g, a.b + b.b}; }
  float luminance() const { return 0.2126F * r + 0.7152F * g + 0.0722F * b; }
};
inline Rgb mix(Rgb from, Rgb to, float share) { return from * (1 - share) + to * share; }

struct CameraPlan {
  int width = 4032, height = 3024;  ///< upright
  int focal_35mm = 26;              ///< as EXIF tells it, by the diagonal
  double focal_px = 3028;           ///< as it is
  double stand_mm = 1500, tilt_deg = 30, roll_deg = 0;
  GroundPoint stand;       ///< where the photographer stands
  double heading_deg = 0;  ///< from -y, clockwise seen from above; small: the raster's strips lie across it
  double distortion = 0;   ///< radial: x (1 + d r2), x and r in units of the focal length
  double blur_px = 0.5, motion_px = 0, motion_deg = 0;
  double vignette = 0.1, exposure = 1, red_gain = 1, blue_gain = 1;
  double shot_noise = 0.008, read_noise = 0.002, sharpening = 0.5, contrast = 0.25;
  int jpeg_quality = 92, orientation = 1;
};

enum class Pavement { asphalt, sealcoat, concrete };

struct Blob {
  GroundPoint at;
  double radius_mm = 0, strength = 0;
};
struct Track {
  std::vector<GroundPoint> points;
  double width_mm = 0, strength = 0;
};
struct Leaf {
  GroundPoint at;
  double length_mm = 0, turn = 0;
  Rgb colour;
  bool twig = false;
};
struct Ghost {
  std::vector<GroundRing> rings;
  double strength = 0;
};  ///< strength < 0: darker than its surroundings

/// Where the surface has gone to pieces, was never more than gravel, or shows the stones that it was cast with.
struct Rubble {
  GroundPoint at;
  double radius_mm = 0, ragged = 0.3;  ///< of the outline, in radii
  double stone_mm = 25, covered = 0.5;  ///< share of its area that stones cover
  double stone_contrast = 0.4, relief_mm = 4;
  Rgb stones, between;
};

struct PavementPlan {
  Pavement what = Pavement::asphalt;
  Rgb albedo{0.1F, 0.1F, 0.1F};
  double stone_mm = 8, stone_contrast = 0.5, relief_mm = 1.0, mottle = 0.1, turn = 0, warmth = 0;
  GroundPoint shift;               ///< where in the seamless textures this lot lies
  double broom = 0;                ///< concrete: how strong the broom's lines are, 0 none .. 1
  std::optional<double> joint_mm;  ///< concrete: spacing of the joints
  GroundPoint joint_at;
  std::vector<Track> cracks, sealant, tyre_marks;
  std::vector<GroundRing> patches;
  std::vector<double> patch_tones;
  std::vector<Blob> oil, wet;
  std::vector<Leaf> leaves;
  std::vector<Ghost> ghosts;
  std::vector<Rubble> rubble;
  double soil = 0;  ///< 0 clean .. 1 heavy film in places
};

struct WheelPath {
  GroundPoint at;
  double turn = 0, width_mm = 400, gain = 2;
};

struct WearPlan {
  double abraded = 0, flaked = 0,
         cracked = 0;  ///< what to aim at, shares of the footprint; the truth is counted afterwards
  double abrasion_spread = 0.5;
  std::vector<WheelPath> wheel_paths;
  double chip_mm = 12, patch_mm = 120, chip_roughness = 0.4, edge_bias = 0, lift_mm = 0.6;
  double crack_mm = 60, crack_width_mm = 1.2;
  double between_coats = 0;  ///< share of the flakes that let go of the older coat and not of the pavement
  double faded = 0;          ///< 0 fresh .. 1 no longer to be told from the pavement
};

struct CoatPlan {
  Colour colour = Colour::white;
  Rgb albedo{0.8F, 0.8F, 0.78F};
};

struct MarkingPlan {
  std::string id;
  Kind kind = Kind::other;
  std::string shape;              ///< name of the shape, or the words of a legend
  std::vector<GroundRing> rings;  ///< as painted, placed on the ground
  double length_mm = 0;
  CoatPlan coat;
  std::optional<CoatPlan> older;
  GroundPoint older_shift;
  double older_turn = 0;
  bool on_field = false;  ///< `older` is the ground coat that the symbol was painted on, no older marking
  bool is_field = false;  ///< the ground coat under a symbol, not a marking that is counted
  double ragged_mm = 1.0, overspray_mm = 3, coat_mm = 0.4;
  WearPlan wear;
  double texture_shift = 0;
  bool label_flakes = false;  ///< not a photo but labels are drawn: blue says where the coat let go
};

struct Caster {  ///< something that throws a shadow, as the shadow's outline on the ground
  std::vector<GroundRing> rings;
  double penumbra_mm = 8, opacity = 1;
};
struct LightPlan {
  double sun_turn = 0, sun_height_deg = 45;  ///< direction the light comes from; height over the horizon
  double sun = 1.0, sky = 0.35;
  Rgb sun_colour{1, 0.97F, 0.92F}, sky_colour{0.85F, 0.95F, 1.15F};
  std::vector<Caster> casters;
  double foliage = 0;  ///< 0 none; else the share of the ground in the trees' shade
  double foliage_leaf_mm = 60, foliage_penumbra_mm = 25;
  GroundPoint foliage_at;       ///< the crown's shadow spreads from here ...
  double foliage_reach_mm = 0;  ///< ... this far (0: everywhere)
  double gradient = 0, gradient_turn = 0;
};

struct SheetPlan {
  Paper paper = Paper::letter;
  GroundPoint at;  ///< its middle
  double turn = 0;
};

/// How uneven a solid is: soil and fading in clouds, and grain as of cast concrete; shares of its own brightness.
struct Unevenness {
  double clouds = 0, clouds_mm = 300, grain = 0, grain_mm = 6;
};

/// Squares of a second colour in rows, every other one left out, within a margin around each face; none of side 0.
struct Squares {
  double side_mm = 0, margin_mm = 0;
  double filled = 1;  ///< of a square's side
  Rgb colour;
};

/// An upright prism with its foot on a plan of its own, its top the foot scaled by `taper` about (0, 0).
struct SolidPart {
  GroundRing foot;
  GroundPoint at;
  double bottom_mm = 0, top_mm = 0, taper = 1;
  Rgb colour;
  Unevenness uneven{};
  Squares squares{};
};
struct Solid {
  std::vector<SolidPart> parts;
  GroundPoint at{};
  double turn = 0;
};

enum class Backdrop { hedge, wall, trees };

struct ScenePlan {
  std::string name;
  Tier tier = Tier::clear;
  std::uint64_t seed = 0;
  CameraPlan camera;
  PavementPlan pavement;
  LightPlan light;
  std::vector<MarkingPlan> markings;  ///< in the order they were painted
  std::optional<SheetPlan> sheet;
  std::vector<Solid> solids;
  Backdrop backdrop = Backdrop::hedge;  ///< what stands where the lot ends
  double backdrop_deg = 8;              ///< how high over the horizon it reaches; then sky
  Rgb backdrop_colour{0.05F, 0.08F, 0.03F};
  double ground_ends_mm = 14000;  ///< how far the lot reaches before it
  std::string taken;              ///< EXIF time, "2026:04:11 09:02:00"
  double lat = 0, lon = 0;
};

/// Everything about the scene follows from these three. `megapixels` scales the photo, not what it shows.
ScenePlan draw_scene(Tier tier, std::uint64_t seed, double megapixels, const std::vector<Shape>& shapes);

/// The same ground some seconds later from a step aside, under the name NAME-again.
ScenePlan draw_again(const ScenePlan& scene);

/// The lot walk of the demo: photos in the order taken.
std::vector<ScenePlan> draw_walk(std::uint64_t seed, double megapixels, const std::vector<Shape>& shapes);

}  // namespace lotwear::rendering
