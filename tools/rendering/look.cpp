// Every photo pixel is a patch of ground, long in one direction where the view is flat: its mean is taken over samples
// along that direction.

#include <algorithm>
#include <cmath>

#include "rendering/photograph.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

constexpr int kBlock = 16;  // ground coordinates are exact every so many pixels and linear between

struct Seen {
  float x = 0, y = 0;
  bool ground = false;
};

class Sampler {
 public:
  explicit Sampler(const std::vector<Strip>& strips) : strips_(strips) {}

  /// Strip in use at a ground y; nothing beyond the farthest.
  const Strip* strip_at(float y) const {
    for (const Strip& s : strips_) {
      if (y >= static_cast<float>(s.seen_top_mm)) return &s;
    }
    return nullptr;
  }
  static Rgb at(const Strip& s, float x, float y) {
    const float cell = 1 / static_cast<float>(s.cell_mm);
    const float c = (x - static_cast<float>(s.left_mm)) * cell - 0.5F,
                r = (y - static_cast<float>(s.top_mm)) * cell - 0.5F;
    const int ci = std::clamp(static_cast<int>(c), 0, s.cols - 2), ri = std::clamp(static_cast<int>(r), 0, s.rows - 2);
    const float fx = std::clamp(c - static_cast<float>(ci), 0.0F, 1.0F),
                fy = std::clamp(r - static_cast<float>(ri), 0.0F, 1.0F);
    const float *a = s.albedo.ptr<float>(ri) + 3 * ci, *b = s.albedo.ptr<float>(ri + 1) + 3 * ci;
    const float wa = (1 - fx) * (1 - fy), wb = fx * (1 - fy), wc = (1 - fx) * fy, wd = fx * fy;
    return {wa * a[0] + wb * a[3] + wc * b[0] + wd * b[3], wa * a[1] + wb * a[4] + wc * b[1] + wd * b[4],
            wa * a[2] + wb * a[5] + wc * b[2] + wd * b[5]};
  }

 private:
  const std::vector<Strip>& strips_;
};

/// Hedge, wall or trees where the lot ends, and the sky over them.
Rgb backdrop(const Camera& camera, const ScenePlan& plan, int u, int v) {
  const SoftTile& soft = tiles().soft;
  const float up = static_cast<float>(camera.over_horizon_deg({u + 0.5, v + 0.5}));
  const float across = static_cast<float>(u) / static_cast<float>(camera.width()) * 60;
  float reach = static_cast<float>(plan.backdrop_deg);
  if (plan.backdrop != Backdrop::wall) reach += 0.16F * reach * soft(across / 9, 3) + 0.6F * soft(across / 1.2F, 8);
  const float light = static_cast<float>(0.5 * plan.light.sun + plan.light.sky);
  if (up > reach) return plan.light.sky_colour * static_cast<float>(plan.light.sun > 0.5 ? 0.75 : 0.95);
  float tone = 1;
  if (plan.backdrop == Backdrop::wall) {
    const float bay = across / 7 - static_cast<float>(whole_below(across / 7));
    const bool window = bay > 0.3F && bay < 0.75F && up > 0.25F * reach && up < 0.75F * reach;
    tone = window ? 0.15F : 1 + 0.05F * soft(across, up);
  } else {
    tone = std::max(0.1F, 1 + 0.45F * soft(across / 2.5F, up / 2.5F) + 0.4F * soft(across / 0.5F, up / 0.5F));
    if (plan.backdrop == Backdrop::trees && up < 0.25F * reach) tone *= 0.6F;
  }
  return plan.backdrop_colour * (tone * light);
}

}  // namespace

cv::Mat look(const Camera& camera, const std::vector<Strip>& strips, const ScenePlan& plan, double far_mm,
             Rgb far_ground) {
  const int w = camera.width(), h = camera.height();
  const int bw = (w + kBlock - 1) / kBlock + 1, bh = (h + kBlock - 1) / kBlock + 1;
  std::vector<Seen> corners(static_cast<std::size_t>(bw * bh));
  const double far = strips.empty() ? 0 : 4 * plan.ground_ends_mm;
  for (int r = 0; r < bh; ++r) {
    for (int c = 0; c < bw; ++c) {
      const std::optional<GroundPoint> g =
          camera.ground_at({static_cast<double>(c * kBlock), static_cast<double>(r * kBlock)});
      Seen& s = corners[static_cast<std::size_t>(r * bw + c)];
      if (g && length(*g - camera.stand()) < far) s = {static_cast<float>(g->x), static_cast<float>(g->y), true};
    }
  }
  const Sampler sampler(strips);
  const SoftTile& soft = tiles().soft;
  const float ends = static_cast<float>(plan.camera.stand.y - plan.ground_ends_mm),
              far2 = static_cast<float>(far_mm * far_mm * 0.996);
  const float sx = static_cast<float>(plan.camera.stand.x), sy = static_cast<float>(plan.camera.stand.y);
  cv::Mat radiance(h, w, CV_32FC3);
  for (int v = 0; v < h; ++v) {
    float* out = radiance.ptr<float>(v);
    const int br = v / kBlock;
    const float fy = (static_cast<float>(v % kBlock) + 0.5F) / kBlock;
    for (int bc = 0; bc * kBlock < w; ++bc) {
      const Seen *a = &corners[static_cast<std::size_t>(br * bw + bc)], *b = a + bw;
      const int last = std::min(w, (bc + 1) * kBlock);
      const bool ground = a[0].ground && a[1].ground && b[0].ground && b[1].ground;
      const float lx = a[0].x + fy * (b[0].x - a[0].x), ly = a[0].y + fy * (b[0].y - a[0].y);
      const float rx = a[1].x + fy * (b[1].x - a[1].x), ry = a[1].y + fy * (b[1].y - a[1].y);
      const float step_x = (rx - lx) / kBlock, step_y = (ry - ly) / kBlock;
      const float down_x = (b[0].x - a[0].x + b[1].x - a[1].x) / (2 * kBlock),
                  down_y = (b[0].y - a[0].y + b[1].y - a[1].y) / (2 * kBlock);
      const float long_side = std::max(std::hypot(step_x, step_y), std::hypot(down_x, down_y));
      const bool vertical = std::hypot(down_x, down_y) >= std::hypot(step_x, step_y);
      const float ax = vertical ? down_x : step_x, ay = vertical ? down_y : step_y;
      for (int u = bc * kBlock; u < last; ++u) {
        const float t = static_cast<float>(u - bc * kBlock) + 0.5F;
        const float x = lx + t * step_x, y = ly + t * step_y;
        const Strip* strip =
            ground && y > ends && (x - sx) * (x - sx) + (y - sy) * (y - sy) < far2 ? sampler.strip_at(y) : nullptr;
        Rgb seen;
        if (strip != nullptr) {
          const int taps = std::clamp(static_cast<int>(long_side / static_cast<float>(strip->cell_mm) + 0.6F), 1, 8);
          for (int i = 0; i < taps; ++i) {
            const float along = (static_cast<float>(i) + 0.5F) / static_cast<float>(taps) - 0.5F;
            seen = seen + Sampler::at(*strip, x + along * ax, y + along * ay);
          }
          seen = seen * (1.0F / static_cast<float>(taps));
        } else if (ground && y > ends) {
          seen = far_ground * (1 + 0.06F * soft(x / 1500, y / 1500));
        } else {
          seen = backdrop(camera, plan, u, v);
        }
        out[3 * u] = std::max(0.0F, seen.r);
        out[3 * u + 1] = std::max(0.0F, seen.g);
        out[3 * u + 2] = std::max(0.0F, seen.b);
      }
    }
  }
  return radiance;
}

}  // namespace lotwear::rendering
