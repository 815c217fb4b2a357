// What the paint was put on. Albedos: fresh asphalt 0.04 to 0.06, old 0.12 to 0.22, concrete 0.2 to 0.45 (common
// pavement albedo figures, from memory).

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "rendering/ground_raster.hpp"
#include "rendering/ramp.hpp"
#include "rendering/rubble.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

/// Standard normal -> share below it (logistic approximation, good to 0.01).
float share_below(float z) { return 1 / (1 + std::exp(-1.702F * z)); }

struct Turned {
  float c, s, dx, dy;
  explicit Turned(const PavementPlan& plan)
      : c(static_cast<float>(std::cos(plan.turn))),
        s(static_cast<float>(std::sin(plan.turn))),
        dx(static_cast<float>(plan.shift.x)),
        dy(static_cast<float>(plan.shift.y)) {}
  float u(float x, float y) const { return c * (x + dx) + s * (y + dy); }
  float v(float x, float y) const { return c * (y + dy) - s * (x + dx); }
};

struct RowOut {
  float *albedo, *height, *rank;
};
RowOut row_of(Strip& strip, int r) {
  return {strip.albedo.ptr<float>(r), strip.height.ptr<float>(r), strip.rank.ptr<float>(r)};
}

void put(const RowOut& out, int c, Rgb base, float factor, float warm, float height, float rank) {
  out.albedo[3 * c] = base.r * factor * (1 + warm);
  out.albedo[3 * c + 1] = base.g * factor;
  out.albedo[3 * c + 2] = base.b * factor * (1 - warm);
  out.height[c] = height;
  out.rank[c] = rank;
}

void lay_asphalt(Strip& strip, const PavementPlan& plan) {
  const StoneTile& stones = tiles().stones;
  const Turned turned(plan);
  const CoarseField where(strip, plan, 180, 180, 1), wide(strip, plan, 1400, 1400, 2), middle(strip, plan, 130, 130, 3),
      lane(strip, plan, 3000, 260, 4);
  const float k = StoneTile::kStone / static_cast<float>(plan.stone_mm),
              contrast = static_cast<float>(plan.stone_contrast), mottle = static_cast<float>(plan.mottle),
              relief = static_cast<float>(plan.relief_mm), warmth = static_cast<float>(plan.warmth);
  const bool sealed = plan.what == Pavement::sealcoat;
  for (int r = 0; r < strip.rows; ++r) {
    const RowOut out = row_of(strip, r);
    const float y = static_cast<float>(strip.y_at(r));
    for (int c = strip.spans[static_cast<std::size_t>(r)].from; c < strip.spans[static_cast<std::size_t>(r)].to; ++c) {
      const float x = static_cast<float>(strip.x_at(c)), u = turned.u(x, y) * k, v = turned.v(x, y) * k;
      // two cuts of the texture in patches, so that its period does not show
      const StoneTile::Spot spot =
          where(r, c) > 0 ? stones(u, v) : stones(0.92F * v + 0.39F * u + 700, 0.39F * v - 0.92F * u + 300);
      const float top = ramp(0.25F, 0.6F, spot.rank), tone = spot.tone * top;
      float factor = (0.68F + 0.42F * spot.rank) * (1 + contrast * (tone > 0 ? 1.5F * tone * tone : 0.45F * tone));
      factor *= 1 + mottle * (0.6F * wide(r, c) + 0.25F * middle(r, c) + (sealed ? 0.5F : 0.3F) * lane(r, c));
      put(out, c, plan.albedo, std::max(0.2F, factor), warmth * spot.tone, relief * std::sqrt(spot.rank), spot.rank);
    }
  }
}

void lay_concrete(Strip& strip, const PavementPlan& plan) {
  const StoneTile& stones = tiles().stones;
  const SoftTile& soft = tiles().soft;
  const Turned turned(plan);
  const CoarseField wide(strip, plan, 900, 900, 1), middle(strip, plan, 160, 160, 2), fine(strip, plan, 35, 35, 3);
  const float k = StoneTile::kStone / static_cast<float>(plan.stone_mm), mottle = static_cast<float>(plan.mottle),
              relief = static_cast<float>(plan.relief_mm), contrast = static_cast<float>(plan.stone_contrast);
  // a broom leaves lines of about a millimetre: cells that cannot show them show their mean
  const float broom = static_cast<float>(plan.broom / std::max(1.0, strip.cell_mm * strip.cell_mm));
  for (int r = 0; r < strip.rows; ++r) {
    const RowOut out = row_of(strip, r);
    const float y = static_cast<float>(strip.y_at(r));
    for (int c = strip.spans[static_cast<std::size_t>(r)].from; c < strip.spans[static_cast<std::size_t>(r)].to; ++c) {
      const float x = static_cast<float>(strip.x_at(c)), u = turned.u(x, y), v = turned.v(x, y);
      const float sand = stones(u * k, v * k).rank;
      const float brush = broom * (0.7F + 0.5F * wide(r, c)) * soft(u / 420, (v + 9 * middle(r, c)) / 3.4F);
      const float rank = share_below(0.9F * brush + 2.2F * (sand - 0.5F));
      float factor = 1 + mottle * (0.5F * wide(r, c) + 0.3F * middle(r, c) + 0.15F * fine(r, c));
      factor *= 1 + contrast * (0.06F * brush + 0.30F * (sand - 0.5F) - 0.8F * ramp(0.05F, 0.0F, sand));
      put(out, c, plan.albedo, std::max(0.3F, factor), 0.02F * wide(r, c), relief * (0.6F * rank + 0.25F * sand), rank);
    }
  }
}

std::vector<cv::Point> in_cells(const Strip& strip, const std::vector<GroundPoint>& points) {
  std::vector<cv::Point> out;
  for (const GroundPoint& p : points) {
    out.emplace_back(static_cast<int>(std::lround((p.x - strip.left_mm) / strip.cell_mm * 16 - 8)),
                     static_cast<int>(std::lround((p.y - strip.top_mm) / strip.cell_mm * 16 - 8)));
  }
  return out;
}

void cut_joints(Strip& strip, const PavementPlan& plan) {
  if (!plan.joint_mm) return;
  const Turned turned(plan);
  const float every = static_cast<float>(*plan.joint_mm), ju = static_cast<float>(plan.joint_at.x),
              jv = static_cast<float>(plan.joint_at.y);
  for (int r = 0; r < strip.rows; ++r) {
    const RowOut out = row_of(strip, r);
    const float y = static_cast<float>(strip.y_at(r));
    for (int c = strip.spans[static_cast<std::size_t>(r)].from; c < strip.spans[static_cast<std::size_t>(r)].to; ++c) {
      const float x = static_cast<float>(strip.x_at(c));
      const auto off = [every](float at) {
        const float share = at / every;
        return std::abs(share - static_cast<float>(whole_below(share + 0.5F))) * every;
      };
      const float d = std::min(off(turned.u(x, y) - ju), off(turned.v(x, y) - jv));
      if (d > 30) continue;
      const float smooth_band = ramp(30, 24, d) * 0.05F, groove = ramp(5.5F, 3.0F, d);
      for (int i = 0; i < 3; ++i)
        out.albedo[3 * c + i] *= (1 + smooth_band) * (1 - 0.72F * groove);
      out.height[c] -= 3 * groove;
      out.rank[c] *= 1 - groove;
    }
  }
}

/// Polygons as a soft 8-bit mask of the whole strip.
cv::Mat mask_of(const Strip& strip, const std::vector<GroundRing>& rings, double soft_mm) {
  cv::Mat mask = cv::Mat::zeros(strip.rows, strip.cols, CV_8U);
  for (const GroundRing& ring : rings) {
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{in_cells(strip, ring)}, 255, cv::LINE_AA, 4);
  }
  if (soft_mm > strip.cell_mm) {
    const int size = 2 * static_cast<int>(soft_mm / strip.cell_mm / 2) + 1;
    cv::blur(mask, mask, {size, size});
  }
  return mask;
}

bool touches(const Strip& strip, const std::vector<GroundPoint>& points, double margin) {
  double left = 1e18, right = -1e18, top = 1e18, bottom = -1e18;
  for (const GroundPoint& p : points) {
    left = std::min(left, p.x), right = std::max(right, p.x), top = std::min(top, p.y), bottom = std::max(bottom, p.y);
  }
  return right > strip.left_mm - margin && left < strip.left_mm + strip.cols * strip.cell_mm + margin &&
         bottom > strip.top_mm - margin && top < strip.top_mm + strip.rows * strip.cell_mm + margin;
}

template <class Change>
void where_masked(Strip& strip, const cv::Mat& mask, Change&& change) {
  for (int r = 0; r < strip.rows; ++r) {
    const uchar* m = mask.ptr<uchar>(r);
    const RowOut out = row_of(strip, r);
    for (int c = strip.spans[static_cast<std::size_t>(r)].from; c < strip.spans[static_cast<std::size_t>(r)].to; ++c) {
      if (m[c] != 0) change(out, c, static_cast<float>(m[c]) / 255);
    }
  }
}

void blend(const RowOut& out, int c, Rgb to, float share) {
  out.albedo[3 * c] += share * (to.r - out.albedo[3 * c]);
  out.albedo[3 * c + 1] += share * (to.g - out.albedo[3 * c + 1]);
  out.albedo[3 * c + 2] += share * (to.b - out.albedo[3 * c + 2]);
}

void lay_patches(Strip& strip, const PavementPlan& plan) {
  for (std::size_t i = 0; i < plan.patches.size(); ++i) {
    if (!touches(strip, plan.patches[i], 0)) continue;
    const float tone = static_cast<float>(plan.patch_tones[i]);
    where_masked(strip, mask_of(strip, {plan.patches[i]}, 4), [&](const RowOut& out, int c, float share) {
      for (int k = 0; k < 3; ++k)
        out.albedo[3 * c + k] *= 1 + share * (tone - 1);
      out.height[c] *= 1 - 0.4F * share;
    });
    GroundRing loop = plan.patches[i];
    loop.push_back(loop.front());
    cv::Mat seam = cv::Mat::zeros(strip.rows, strip.cols, CV_8U);
    cv::polylines(seam, std::vector<std::vector<cv::Point>>{in_cells(strip, loop)}, false, 255,
                  std::max(1, static_cast<int>(14 / strip.cell_mm)), cv::LINE_AA, 4);
    where_masked(strip, seam, [&](const RowOut& out, int c, float share) {
      blend(out, c, {0.03F, 0.03F, 0.032F}, 0.6F * share);
    });
  }
}

void lay_ghosts(Strip& strip, const PavementPlan& plan) {
  for (const Ghost& ghost : plan.ghosts) {
    for (const GroundRing& ring : ghost.rings) {
      if (!touches(strip, ring, 0)) continue;
      const float strength = static_cast<float>(ghost.strength);
      where_masked(strip, mask_of(strip, {ring}, 12), [&](const RowOut& out, int c, float share) {
        const float level = 1 + strength * share * (0.5F + out.rank[c]);
        for (int k = 0; k < 3; ++k)
          out.albedo[3 * c + k] *= level;
        out.height[c] *= 1 - 0.35F * share;
      });
    }
  }
}

void draw_track(const Strip& strip, cv::Mat& plane, const Track& track, double opacity) {
  if (!touches(strip, track.points, track.width_mm)) return;
  const double cells = track.width_mm / strip.cell_mm;
  // a line thinner than a cell covers a part of it
  const int thick = std::max(1, static_cast<int>(std::lround(cells)));
  const int level = static_cast<int>(255 * opacity * std::min(1.0, cells));
  cv::polylines(plane, std::vector<std::vector<cv::Point>>{in_cells(strip, track.points)}, false, level, thick,
                cv::LINE_AA, 4);
}

void lay_sealant(Strip& strip, const PavementPlan& plan) {
  for (const Track& track : plan.sealant) {
    if (!touches(strip, track.points, track.width_mm)) continue;
    cv::Mat mask = cv::Mat::zeros(strip.rows, strip.cols, CV_8U);
    draw_track(strip, mask, track, 1);
    where_masked(strip, mask, [&](const RowOut& out, int c, float share) {
      blend(out, c, {0.022F, 0.022F, 0.024F}, share * static_cast<float>(track.strength));
      out.height[c] = out.height[c] * (1 - 0.85F * share) + 0.9F * share;
      out.rank[c] += share * 0.7F * (0.5F - out.rank[c]);
    });
  }
}

void mark_films(Strip& strip, const PavementPlan& plan) {
  const CoarseField wide(strip, plan, 700, 700, 11), fine(strip, plan, 60, 60, 12), treads(strip, plan, 90, 26, 13);
  for (const Track& track : plan.tyre_marks)
    draw_track(strip, strip.tyre, track, track.strength);
  if (!plan.tyre_marks.empty()) {
    const int size = 2 * static_cast<int>(16 / strip.cell_mm) + 1;
    cv::blur(strip.tyre, strip.tyre, {size, size});
  }
  const float soil = static_cast<float>(plan.soil);
  for (int r = 0; r < strip.rows; ++r) {
    uchar *film = strip.film.ptr<uchar>(r), *tyre = strip.tyre.ptr<uchar>(r);
    const float* rank = strip.rank.ptr<float>(r);
    for (int c = strip.spans[static_cast<std::size_t>(r)].from; c < strip.spans[static_cast<std::size_t>(r)].to; ++c) {
      // rubber sits on the high spots, dirt in the low ones
      float rubber = static_cast<float>(tyre[c]) / 255;
      if (rubber > 0) rubber *= std::clamp(0.35F + 0.75F * rank[c] + 0.22F * treads(r, c), 0.0F, 1.0F);
      float dirt = 0;
      if (soil > 0) {
        dirt = soil * ramp(-0.9F, 1.6F, wide(r, c) + 0.45F * fine(r, c)) * (0.55F + 0.6F * (1 - rank[c]));
      }
      tyre[c] = static_cast<uchar>(255 * std::clamp(rubber, 0.0F, 0.95F));
      film[c] =
          static_cast<uchar>(255 * (1 - (1 - std::clamp(dirt, 0.0F, 0.9F)) * (1 - std::clamp(rubber, 0.0F, 0.95F))));
    }
  }
}

void mark_water(Strip& strip, const PavementPlan& plan) {
  if (plan.wet.empty()) return;
  const CoarseField shore(strip, plan, 260, 260, 21);
  for (int r = 0; r < strip.rows; ++r) {
    uchar* wet = strip.wet.ptr<uchar>(r);
    for (int c = strip.spans[static_cast<std::size_t>(r)].from; c < strip.spans[static_cast<std::size_t>(r)].to; ++c) {
      float level = 0;
      for (const Blob& blob : plan.wet) {
        const double d = length(GroundPoint{strip.x_at(c), strip.y_at(r)} - blob.at) / blob.radius_mm;
        if (d < 2) {
          const float here = ramp(1.0F, 0.86F, static_cast<float>(d) + 0.22F * shore(r, c));
          level = std::max(level, here * static_cast<float>(blob.strength));
        }
      }
      wet[c] = static_cast<uchar>(255 * level);
    }
  }
}

void drop_oil(Strip& strip, const PavementPlan& plan) {
  const CoarseField spread(strip, plan, 70, 70, 31);
  for (const Blob& blob : plan.oil) {
    const int reach = static_cast<int>(2 * blob.radius_mm / strip.cell_mm);
    const int cx = static_cast<int>((blob.at.x - strip.left_mm) / strip.cell_mm);
    const int cy = static_cast<int>((blob.at.y - strip.top_mm) / strip.cell_mm);
    for (int r = std::max(0, cy - reach); r < std::min(strip.rows, cy + reach); ++r) {
      const RowOut out = row_of(strip, r);
      for (int c = std::max(0, cx - reach); c < std::min(strip.cols, cx + reach); ++c) {
        const double d = length(GroundPoint{strip.x_at(c), strip.y_at(r)} - blob.at) / blob.radius_mm;
        const float share =
            ramp(1.1F, 0.5F, static_cast<float>(d) + 0.25F * spread(r, c)) * static_cast<float>(blob.strength);
        if (share > 0) blend(out, c, {0.018F, 0.016F, 0.014F}, share);
      }
    }
  }
}

void drop_leaves(Strip& strip, const PavementPlan& plan) {
  for (const Leaf& leaf : plan.leaves) {
    const double half = leaf.length_mm / 2, wide = leaf.twig ? 0.03 : 0.42, reach = half + 4;
    const int r0 = static_cast<int>((leaf.at.y - reach - strip.top_mm) / strip.cell_mm);
    const int r1 = static_cast<int>((leaf.at.y + reach - strip.top_mm) / strip.cell_mm) + 1;
    const int c0 = static_cast<int>((leaf.at.x - reach - strip.left_mm) / strip.cell_mm);
    const int c1 = static_cast<int>((leaf.at.x + reach - strip.left_mm) / strip.cell_mm) + 1;
    const double cs = std::cos(leaf.turn), sn = std::sin(leaf.turn);
    for (int r = std::max(0, r0); r < std::min(strip.rows, r1); ++r) {
      const RowOut out = row_of(strip, r);
      for (int c = std::max(0, c0); c < std::min(strip.cols, c1); ++c) {
        const double dx = strip.x_at(c) - leaf.at.x, dy = strip.y_at(r) - leaf.at.y;
        const double along = (cs * dx + sn * dy) / half, across = (cs * dy - sn * dx) / half;
        const double rim = wide * (1 - along * along) * (1 + 0.12 * std::sin(14 * along));
        if (std::abs(along) >= 1) continue;
        const float share = ramp(1.06F, 0.92F, static_cast<float>(std::abs(across) / std::max(1e-3, rim)));
        if (share <= 0) continue;
        const float vein = 1 - 0.25F * ramp(0.06F, 0.0F, static_cast<float>(std::abs(across)));
        blend(out, c, leaf.colour * vein, share);
        out.height[c] += share * static_cast<float>(3 + 4 * across * across * half / 10);
      }
    }
  }
}

}  // namespace

void lay_pavement(Strip& strip, const PavementPlan& plan) {
  if (plan.what == Pavement::concrete) {
    lay_concrete(strip, plan);
    cut_joints(strip, plan);
  } else {
    lay_asphalt(strip, plan);
  }
  lay_rubble(strip, plan);
  lay_ghosts(strip, plan);
  lay_patches(strip, plan);
  lay_sealant(strip, plan);
  for (const Track& crack : plan.cracks)
    draw_track(strip, strip.crack, crack, 1);
  mark_films(strip, plan);
  mark_water(strip, plan);
}

void cover_pavement(Strip& strip, const PavementPlan& plan) {
  const Rgb dirt = plan.what == Pavement::concrete ? Rgb{0.16F, 0.13F, 0.10F} : Rgb{0.105F, 0.092F, 0.075F};
  const Rgb rubber{0.03F, 0.03F, 0.031F};
  for (int r = 0; r < strip.rows; ++r) {
    const RowOut out = row_of(strip, r);
    const uchar *film = strip.film.ptr<uchar>(r), *tyre = strip.tyre.ptr<uchar>(r), *crack = strip.crack.ptr<uchar>(r);
    for (int c = strip.spans[static_cast<std::size_t>(r)].from; c < strip.spans[static_cast<std::size_t>(r)].to; ++c) {
      if (crack[c] != 0) {
        const float share = static_cast<float>(crack[c]) / 255;
        blend(out, c, {0.02F, 0.018F, 0.016F}, 0.9F * share);
        out.height[c] -= 2.5F * share;
      }
      if (film[c] == 0) continue;
      const float t = static_cast<float>(tyre[c]) / 255;
      const float d = 1 - (1 - static_cast<float>(film[c]) / 255) / (1 - t);
      blend(out, c, dirt, std::clamp(d, 0.0F, 1.0F));
      blend(out, c, rubber, t);
    }
  }
  drop_oil(strip, plan);
  drop_leaves(strip, plan);
}

}  // namespace lotwear::rendering
