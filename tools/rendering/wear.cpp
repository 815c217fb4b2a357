#include "rendering/wear.hpp"

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "rendering/fill.hpp"
#include "rendering/ramp.hpp"
#include "rendering/tiles.hpp"

namespace lotwear::rendering {

namespace {

struct Box {
  double left = 1e18, right = -1e18, top = 1e18, bottom = -1e18;
};
Box box_of(const std::vector<GroundRing>& rings, double margin) {
  Box b;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) {
      b.left = std::min(b.left, p.x - margin), b.right = std::max(b.right, p.x + margin);
      b.top = std::min(b.top, p.y - margin), b.bottom = std::max(b.bottom, p.y + margin);
    }
  }
  return b;
}

/// Distance to the outline in millimetres, positive inside, on a grid of `cell` whose first cell's corner is (left,
/// top).
cv::Mat distance_grid(const std::vector<GroundRing>& rings, const std::vector<GroundRing>& cut, double cell,
                      double left, double top, cv::Size size) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8U);
  const auto draw = [&](const std::vector<GroundRing>& what, unsigned char value) {
    for (GroundRing ring : what) {
      for (GroundPoint& p : ring)
        p = {(p.x - left) / cell, (p.y - top) / cell};
      fill(mask, ring, value);
    }
  };
  draw(rings, 255);
  draw(cut, 0);
  cv::Mat in, out, inverse;
  cv::distanceTransform(mask, in, cv::DIST_L2, cv::DIST_MASK_5);
  cv::bitwise_not(mask, inverse);
  cv::distanceTransform(inverse, out, cv::DIST_L2, cv::DIST_MASK_5);
  cv::Mat distance(size, CV_32F);
  const float mm = static_cast<float>(cell);
  for (int r = 0; r < size.height; ++r) {
    const float *a = in.ptr<float>(r), *b = out.ptr<float>(r);
    float* d = distance.ptr<float>(r);
    for (int c = 0; c < size.width; ++c)
      d[c] = a[c] > 0 ? (a[c] - 0.5F) * mm : (0.5F - b[c]) * mm;
  }
  return distance;
}

std::vector<GroundRing> moved(const std::vector<GroundRing>& rings, GroundPoint shift, double turn) {
  GroundPoint middle{};
  double n = 0;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring)
      middle = middle + p, ++n;
  }
  middle = middle * (1 / n);
  const double c = std::cos(turn), s = std::sin(turn);
  std::vector<GroundRing> out = rings;
  for (GroundRing& ring : out) {
    for (GroundPoint& p : ring) {
      const GroundPoint d = p - middle;
      p = middle + shift + GroundPoint{c * d.x - s * d.y, s * d.x + c * d.y};
    }
  }
  return out;
}

/// So that the mean of the levels, none over `kMostAbraded`, is the wanted one.
constexpr float kMostAbraded = 0.985F;
float scale_for(const std::vector<float>& gains, double wanted) {
  if (gains.empty() || wanted <= 0) return 0;
  double low = 0, high = 50;
  for (int round = 0; round < 40; ++round) {
    const double middle = (low + high) / 2;
    double sum = 0;
    for (const float g : gains)
      sum += std::min(static_cast<double>(kMostAbraded), middle * static_cast<double>(g));
    (sum < wanted * static_cast<double>(gains.size()) ? low : high) = middle;
  }
  return static_cast<float>((low + high) / 2);
}

/// Lays shares over those of what was painted before.
void note(Strip& strip, int row, int col, const cv::Vec3f& coats, const cv::Vec3f& losses) {
  const float covered = coats[0] + coats[1] + coats[2] + losses[0] + losses[1], below = std::max(0.0F, 1 - covered);
  cv::Vec3f &c = strip.coats.at<cv::Vec3f>(row, col), &l = strip.losses.at<cv::Vec3f>(row, col);
  c = c * below + coats;
  l = l * below + losses;
}

/// Chalked and dulled: the colour loses its strength and drifts towards the pavement.
Rgb weathered(Rgb fresh, Rgb pavement, double faded) {
  const float share = static_cast<float>(faded), y = fresh.luminance();
  const Rgb chalk{0.62F * y + 0.12F, 0.61F * y + 0.115F, 0.58F * y + 0.105F};
  const Rgb dull = mix(chalk, pavement, 0.75F);
  return mix(fresh, dull, share);
}

}  // namespace

WornMarking::WornMarking(const MarkingPlan& plan, const PavementPlan& pavement, const std::vector<GroundRing>& cut)
    : plan_(plan), pavement_(pavement), cut_(cut), shift_(static_cast<float>(plan.texture_shift)) {
  coat_now_ = weathered(plan.coat.albedo, pavement.albedo, plan.wear.faded);
  if (plan.older) {
    older_now_ = plan.older->albedo;
    older_rings_ = moved(plan.rings, plan.older_shift, plan.older_turn);
  }
  const Box box = box_of(plan.rings, 60);
  grid_left_ = box.left, grid_top_ = box.top;
  const double area_cells = (box.right - box.left) * (box.bottom - box.top) / (grid_mm_ * grid_mm_);
  grid_mm_ *= std::max(1.0, std::sqrt(area_cells / 4e6));
  const cv::Size size(static_cast<int>((box.right - box.left) / grid_mm_) + 2,
                      static_cast<int>((box.bottom - box.top) / grid_mm_) + 2);
  distance_ = distance_grid(plan.rings, cut_, grid_mm_, grid_left_, grid_top_, size);

  std::vector<GroundPoint> inside;
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      if (distance_.at<float>(r, c) > 0)
        inside.push_back({grid_left_ + (c + 0.5) * grid_mm_, grid_top_ + (r + 0.5) * grid_mm_});
    }
  }
  const std::size_t every = std::max<std::size_t>(1, inside.size() / 30000);
  std::vector<float> flakes, cracks;
  std::vector<float> gains;
  for (std::size_t i = 0; i < inside.size(); i += every) {
    const float x = static_cast<float>(inside[i].x), y = static_cast<float>(inside[i].y);
    float own = 0;
    flakes.push_back(flake_value(x, y, inside_mm(inside[i].x, inside[i].y), own));
    cracks.push_back(tiles().soft((x + shift_) / 300, y / 300));
    gains.push_back(abrasion_gain(x, y));
  }
  const auto above_share = [](std::vector<float>& values, double share) {
    if (values.empty() || share <= 0) return 1e9F;
    const std::size_t at = static_cast<std::size_t>((1 - std::min(share, 0.999)) * static_cast<double>(values.size()));
    std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(at), values.end());
    return values[at];
  };
  flake_above_ = above_share(flakes, plan.wear.flaked);
  // a network of cracks takes about 2 w / spacing of the area it covers
  const double dense = std::min(0.8, 2.2 * plan.wear.crack_width_mm / plan.wear.crack_mm);
  crack_field_above_ = above_share(cracks, std::min(1.0, plan.wear.cracked / dense));
  abrasion_scale_ = scale_for(gains, plan.wear.abraded);
}

float WornMarking::inside_mm(double x, double y) const {
  const double c = (x - grid_left_) / grid_mm_ - 0.5, r = (y - grid_top_) / grid_mm_ - 0.5;
  const int ci = std::clamp(static_cast<int>(c), 0, distance_.cols - 1),
            ri = std::clamp(static_cast<int>(r), 0, distance_.rows - 1);
  return distance_.at<float>(ri, ci);
}

float WornMarking::flake_value(float x, float y, float inside, float& own) const {
  const WearPlan& w = plan_.wear;
  const SoftTile& soft = tiles().soft;
  const ChipTile& chips = tiles().chips;
  const float size = static_cast<float>(w.chip_mm), patch = static_cast<float>(w.patch_mm);
  const ChipTile::Spot& small = chips((x + shift_) / size, y / size);
  const ChipTile::Spot& large = chips(y / (4.3F * size) + 3.7F, (x + shift_) / (4.3F * size));
  const float cx = x + small.dx * size + shift_, cy = y + small.dy * size;
  own = small.own;
  const float rough = static_cast<float>(w.chip_roughness);
  const float bias = w.edge_bias > 0 ? static_cast<float>(w.edge_bias) * std::exp(-std::max(0.0F, inside) / 35) : 0.0F;
  return soft(cx / patch, cy / patch + 11) + rough * (3.2F * (small.own - 0.5F) + 1.6F * (large.own - 0.5F)) + bias;
}

float WornMarking::crack_value(float x, float y) const {
  const float size = static_cast<float>(plan_.wear.crack_mm);
  return 0.5F * size * tiles().chips((x + shift_) / size + 9.3F, y / size + 4.1F).edge;
}

float WornMarking::abrasion_gain(float x, float y) const {
  const WearPlan& w = plan_.wear;
  const float spread = static_cast<float>(w.abrasion_spread);
  float gain =
      std::exp(spread * (0.8F * tiles().soft((x + shift_) / 500 + 5, y / 500) + 0.35F * tiles().soft(x / 60, y / 60)));
  for (const WheelPath& path : w.wheel_paths) {
    const double across = -std::sin(path.turn) * (static_cast<double>(x) - path.at.x) +
                          std::cos(path.turn) * (static_cast<double>(y) - path.at.y);
    const double d = across / path.width_mm;
    gain *= static_cast<float>(1 + path.gain * std::exp(-2 * d * d));
  }
  return gain;
}

void WornMarking::paint(Strip& strip, Counts& counts) const {
  std::vector<GroundRing> all = plan_.rings;
  all.insert(all.end(), older_rings_.begin(), older_rings_.end());
  const Box box = box_of(all, 50);
  const double cell = strip.cell_mm;
  cv::Rect part(static_cast<int>((box.left - strip.left_mm) / cell), static_cast<int>((box.top - strip.top_mm) / cell),
                static_cast<int>((box.right - box.left) / cell) + 1,
                static_cast<int>((box.bottom - box.top) / cell) + 1);
  part &= cv::Rect(0, 0, strip.cols, strip.rows);
  if (part.empty()) return;
  const double left = strip.left_mm + part.x * cell, top = strip.top_mm + part.y * cell;
  const cv::Mat inside = distance_grid(plan_.rings, cut_, cell, left, top, part.size());
  const cv::Mat older =
      older_rings_.empty() ? cv::Mat() : distance_grid(older_rings_, cut_, cell, left, top, part.size());
  cv::Mat flaked = cv::Mat::zeros(part.size(), CV_32F), present = cv::Mat::zeros(part.size(), CV_32F);
  for (int r = 0; r < part.height; ++r) {
    paint_row(strip, part.y + r, part, inside.ptr<float>(r), older.empty() ? nullptr : older.ptr<float>(r),
              flaked.ptr<float>(r), present.ptr<float>(r), counts);
  }
  if (plan_.wear.flaked <= 0 || plan_.wear.lift_mm <= 0) return;
  // the rim of what is left stands off the pavement beside a flake
  const int size = 2 * static_cast<int>(std::max(1.0, 2.5 / cell)) + 1;
  cv::Mat near;
  cv::blur(flaked, near, {size, size});
  const float lift = 2 * static_cast<float>(plan_.wear.lift_mm);
  for (int r = 0; r < part.height; ++r) {
    float* height = strip.height.ptr<float>(part.y + r) + part.x;
    const float *p = present.ptr<float>(r), *n = near.ptr<float>(r);
    for (int c = 0; c < part.width; ++c)
      height[c] += lift * p[c] * n[c];
  }
}

void WornMarking::paint_row(Strip& strip, int row, const cv::Rect& part, const float* inside, const float* older,
                            float* flaked, float* present, Counts& counts) const {
  const WearPlan& w = plan_.wear;
  const SoftTile& soft = tiles().soft;
  const Span span = strip.spans[static_cast<std::size_t>(row)];
  const float cell = static_cast<float>(strip.cell_mm), y = static_cast<float>(strip.y_at(row));
  const float ragged = static_cast<float>(plan_.ragged_mm), spray = static_cast<float>(plan_.overspray_mm),
              thick = static_cast<float>(plan_.coat_mm), crack_half = static_cast<float>(w.crack_width_mm) / 2,
              between = static_cast<float>(w.between_coats), soft_edge = 0.5F * cell + 0.35F;
  const double cell_area = strip.cell_mm * strip.cell_mm;
  float *albedo = strip.albedo.ptr<float>(row), *height = strip.height.ptr<float>(row),
        *rank = strip.rank.ptr<float>(row);
  const uchar *cracks = strip.crack.ptr<uchar>(row), *film = strip.film.ptr<uchar>(row);
  for (int i = 0; i < part.width; ++i) {
    const int c = part.x + i;
    if (c < span.from || c >= span.to) continue;
    const float x = static_cast<float>(strip.x_at(c));
    const float d = inside[i];
    const float old_d = older != nullptr ? older[i] : -1e9F;
    if (d < -40 && old_d < -4) continue;
    const bool seen = strip.x_at(c) >= span.seen_from && strip.x_at(c) < span.seen_to;
    if (seen && d < -15 && d > -40 && old_d < -6) {
      for (int k = 0; k < 3; ++k)
        counts.pavement[k] += static_cast<double>(albedo[3 * c + k]);
      counts.pavement_cells += 1;
    }
    if (d < -2 * spray - 4 && old_d < -4) continue;

    // roller and spray leave an edge that wanders a little and a thin dust beyond it
    const float wander = ragged * (0.8F * soft(x / 26 + shift_, y / 26) + 0.5F * soft(x / 7, y / 7 + shift_));
    const float painted = ramp(-soft_edge, soft_edge, d + wander);
    const float dust =
        d < 0 ? 0.22F * ramp(-2 * spray, 0, d + wander) * ramp(0.3F, 0.9F, rank[c] + 0.35F * soft(x / 3, y / 3)) : 0.0F;

    // how the coat went
    float own = 0, gone_flaked = 0, gone_cracked = 0, gone_abraded = 0, level = 0;
    const float height_rank = std::clamp(rank[c] + 0.07F * soft(x / 5 + 2, y / 5 + shift_), 0.0F, 1.0F);
    if (w.flaked > 0) gone_flaked = flake_value(x, y, d, own) > flake_above_ ? 1.0F : 0.0F;
    if (w.cracked > 0 && soft((x + shift_) / 300, y / 300) > crack_field_above_) {
      const float off = crack_value(x, y) + 0.25F * soft(x / 9, y / 9);
      gone_cracked = std::clamp((crack_half - off) / cell + 0.5F, 0.0F, 1.0F) * std::min(1.0F, 2 * crack_half / cell);
    }
    gone_cracked = std::max(gone_cracked, static_cast<float>(cracks[c]) / 255);
    if (w.abraded > 0) {
      level = std::min(kMostAbraded, abrasion_scale_ * abrasion_gain(x, y));
      gone_abraded = ramp(-0.035F, 0.035F, height_rank - (1 - level));
    }
    const float f = gone_flaked, k = (1 - f) * gone_cracked, a = (1 - f) * (1 - gone_cracked) * gone_abraded;
    const float top = painted * (1 - f - k - a);

    // an older coat shows where the top coat let go of it
    float older_shows = 0, under_flakes = 0, under_worn = 0;
    if (older != nullptr) {
      const float under = ramp(-soft_edge, soft_edge, old_d + wander);
      const float stayed_flake = own * 7.13F - static_cast<float>(whole_below(own * 7.13F)) < between ? 1.0F : 0.0F;
      const float stayed_stone = ramp(0.03F, -0.03F, height_rank - (1 - 0.5F * level));
      const float bare = 1 - painted,
                  own_wear = height_rank < 0.72F - 0.12F * soft(x / 90, y / 90 + shift_) ? 1.0F : 0.0F;
      under_flakes = under * painted * f * stayed_flake;
      under_worn = under * painted * a * stayed_stone;
      older_shows = under * (painted * (f * stayed_flake + a * stayed_stone) + bare * own_wear);
      const Rgb old = older_now_ * (1 + 0.05F * soft(x / 70, y / 70 + 3));
      const float share = older_shows;
      albedo[3 * c] += share * (old.r - albedo[3 * c]);
      albedo[3 * c + 1] += share * (old.g - albedo[3 * c + 1]);
      albedo[3 * c + 2] += share * (old.b - albedo[3 * c + 2]);
      height[c] += 0.3F * share;
    }
    // pavement that was under paint until lately is cleaner and darker, and keeps a trace of paint in its pores
    if (f > 0 && older_shows < 0.5F && pavement_.what != Pavement::concrete) {
      for (int ch = 0; ch < 3; ++ch)
        albedo[3 * c + ch] *= 1 - 0.16F * f * painted;
    }
    const float tone =
        1 + 0.035F * soft(x / 170, y / 170 + shift_) + 0.03F * soft(x / 14, y / 14) + 0.05F * (height_rank - 0.5F);
    const float cover = std::min(1.0F, top + dust * (1 - painted));
    const Rgb paint = coat_now_ * tone;
    albedo[3 * c] += cover * (paint.r - albedo[3 * c]);
    albedo[3 * c + 1] += cover * (paint.g - albedo[3 * c + 1]);
    albedo[3 * c + 2] += cover * (paint.b - albedo[3 * c + 2]);
    if (plan_.label_flakes) albedo[3 * c + 2] = painted * f;
    height[c] = height[c] * (1 - 0.35F * top) + thick * top;
    if (!strip.coats.empty()) {
      const cv::Vec3f coats(top, older_shows, painted * f - under_flakes),
          losses(painted * a - under_worn, painted * k, 0);
      note(strip, row, c, coats, losses);
    }
    flaked[i] = painted * f;
    present[i] = top;

    const double area = static_cast<double>(painted) * cell_area;
    if (!seen) continue;
    counts.painted += area;
    counts.top += static_cast<double>(top) * cell_area;
    counts.older += static_cast<double>(std::min(older_shows, painted - top)) * cell_area;
    counts.abraded += static_cast<double>(painted * a) * cell_area;
    counts.flaked += static_cast<double>(painted * f) * cell_area;
    counts.cracked += static_cast<double>(painted * k) * cell_area;
    if (film[c] > 64) counts.soiled += static_cast<double>(top) * cell_area;
  }
}

}  // namespace lotwear::rendering
