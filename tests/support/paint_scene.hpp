#pragma once
// A small world for the tests of `measure`: a ground raster with stones, paint worn in known ways, light with shadows,
// and a simple camera over it. Truth is counted on the raster, never read from the picture.

#include <array>
#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "capture/photo.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"

namespace lotwear::paint_scene {

using Reflectance = std::array<double, 3>;  ///< linear R G B
inline constexpr Reflectance kAsphalt{0.095, 0.092, 0.086}, kOldAsphalt{0.16, 0.155, 0.145},
    kConcrete{0.36, 0.34, 0.30};
inline constexpr Reflectance kWhite{0.70, 0.70, 0.66}, kYellow{0.62, 0.40, 0.04}, kBlue{0.03, 0.13, 0.42},
    kRed{0.40, 0.05, 0.04};

enum class Light { even, edge, dapple };

struct Spec {
  std::uint64_t seed = 1;
  double length_mm = 1500, width_mm = 100;
  bool arrow = false;  ///< a pointed shape of the same length instead of a bar
  Reflectance pavement = kAsphalt, paint = kWhite;
  double texture = 0.22;  ///< spread of the log of stone brightness
  double stone_mm = 7;
  double abraded = 0, flaked = 0, cracked = 0;  ///< shares lost, roughly; truth is counted
  double wheel_path = 0.5;                      ///< how unevenly abrasion is spread, 0 even
  double older_share = 0;                       ///< share of the flaked area with an older coat beneath
  Reflectance older{0.45, 0.45, 0.43};
  double soil = 0;  ///< darkening of the paint by dirt, in patches
  double tyre = 0;  ///< darkening under a tyre track across
  Light light = Light::even;
  double shade = 0.22;  ///< light in the shade over light in the sun
  double tint = 0.25;   ///< how much bluer the shade is
  double penumbra_mm = 12;
  double pixel_mm = 1.6;  ///< of the ground under the middle of the photo
  double tilt_deg = 25, turn_deg = 8;
  double blur_px = 0.7, noise = 0.008, sharpen = 0.4, exposure = 1.0, curve = 0.0;
  int jpeg_quality = 92;
};

struct Scene {
  Photo photo;
  Ground ground;
  Footprint footprint;
  double remaining = 0, any_coat = 0, abraded = 0, flaked = 0, cracked = 0, older = 0;  ///< shares of the footprint
};

Scene make(const Spec& spec);

/// A spec drawn at random: tier 0 clear, 1 plain, 2 hard.
Spec random_spec(std::uint64_t seed, int tier);

/// The footprint with its edges moved outward by `by_mm`.
Footprint grown(const Footprint& footprint, double by_mm);

}  // namespace lotwear::paint_scene
