#include <algorithm>
#include <cmath>

#include "rendering/draw_parts.hpp"

namespace lotwear::rendering {

CameraPlan draw_camera(Random& random, Tier tier, double megapixels) {
  CameraPlan c;
  const double scale = std::sqrt(megapixels * 1e6 / (4032.0 * 3024.0));
  const int long_side = 16 * static_cast<int>(std::lround(4032 * scale / 16)), short_side = long_side * 3 / 4;
  const bool portrait = random.chance(0.55);
  c.width = portrait ? short_side : long_side;
  c.height = portrait ? long_side : short_side;
  c.focal_35mm = random.whole(24, 30);
  // CIPA DCG-001: the equivalent compares diagonals, 43.27 mm on film
  const double diagonal = std::hypot(c.width, c.height);
  c.focal_px = diagonal * (c.focal_35mm + random.between(-0.5, 0.5)) / 43.27;
  c.stand_mm = random.between(1200, 2000);
  const double tilt_from[] = {0, 8, 18}, tilt_to[] = {36, 50, 60};
  const std::size_t level = static_cast<std::size_t>(tier);
  c.tilt_deg = random.between(tilt_from[level], tilt_to[level]);
  c.roll_deg = random.normal() * (c.tilt_deg < 12 ? 8 : 2.0 + static_cast<double>(level));
  c.distortion = random.between(-0.006, 0.008);
  c.vignette = random.between(0.0, 0.16);
  c.jpeg_quality = random.whole(85, 95);
  if (portrait) {
    c.orientation = random.chance(0.7) ? (random.chance(0.8) ? 6 : 8) : 1;
  }
  return c;
}

void draw_development(Random& random, Tier tier, const LightPlan& light, CameraPlan& c) {
  const double scale = std::hypot(c.width, c.height) / 5040;  // what is given in pixels is for 12 megapixels
  const int level = static_cast<int>(tier);
  double blur = random.between(0.4, 0.7 + 0.2 * level);
  if (tier == Tier::hard && random.chance(0.4)) blur = random.between(0.8, 2.0);
  c.blur_px = std::max(0.3, blur * scale);
  if (tier != Tier::clear && random.chance(0.08 + 0.08 * level)) {
    c.motion_px = random.between(1, 2 + level) * scale;
    c.motion_deg = random.between(0, 180);
  }
  c.exposure = std::exp(random.normal() * (tier == Tier::clear ? 0.1 : 0.2));
  c.red_gain = std::exp(random.normal() * (0.03 + 0.02 * level));
  c.blue_gain = std::exp(random.normal() * (0.03 + 0.02 * level));
  const double dark = light.sun < 0.5 ? 1.6 : 1.0;
  c.shot_noise = dark * random.between(0.006, 0.012 + 0.006 * level);
  c.read_noise = dark * random.between(0.0008, 0.002 + 0.001 * level);
  c.sharpening = random.between(0.2, 0.9);
  c.contrast = random.between(0.1, 0.4);
}

}  // namespace lotwear::rendering
