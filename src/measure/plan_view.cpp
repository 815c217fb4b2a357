#include "measure/plan_view.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "measure/bounds.hpp"
#include "measure/plan_beside.hpp"
#include "measure/plan_light.hpp"
#include "measure/plan_outline.hpp"

namespace lotwear {
namespace {

/// Millimetres of ground a photo pixel covers (root of the area) at a ground point; nothing behind the horizon.
std::optional<double> pixel_mm(const Ground& ground, GroundPoint g) {
  if (ground.image_from_ground.depth(g) == 0) return std::nullopt;
  const double h = 1.0;
  const ImagePoint p = ground.image_from_ground(g);
  const ImagePoint px = ground.image_from_ground({g.x + h, g.y}) - p;
  const ImagePoint py = ground.image_from_ground({g.x, g.y + h}) - p;
  const double area = std::abs(cross(px, py));
  if (!(area > 1e-9) || !std::isfinite(area)) return std::nullopt;
  return 1 / std::sqrt(area);
}

bool in_picture(const Photo& photo, ImagePoint p) {
  return p.x >= 0 && p.y >= 0 && p.x < photo.rgb.cols && p.y < photo.rgb.rows;
}

/// Millimetres of ground a photo pixel covers, at spots along the outlines that the photo shows; ascending.
std::vector<double> pixel_sizes(const Photo& photo, const Ground& ground, const std::vector<GroundRing>& rings) {
  std::vector<double> pixel;
  for (const GroundRing& ring : rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      for (const double t : {0.0, 0.25, 0.5, 0.75}) {
        const GroundPoint g = ring[i] * (1 - t) + ring[(i + 1) % ring.size()] * t;
        if (!in_picture(photo, ground.image_from_ground(g))) continue;
        if (const auto mm = pixel_mm(ground, g)) pixel.push_back(*mm);
      }
    }
  }
  std::sort(pixel.begin(), pixel.end());
  return pixel;
}

/// Lays the plan's grid over the outlines and `margin` millimetres around them, turned as the plan already says.
/// `fine_px_mm`: a photo pixel on the ground where the photo is fine.
void lay_grid(const std::vector<GroundRing>& rings, double margin, double fine_px_mm, const PlanSettings& settings,
              PlanView& plan) {
  Bounds box;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& g : ring) {
      const GroundPoint local = turned(g, -plan.turn_rad);
      box.reach(local.x, local.y);
    }
  }
  const double wide = box.right - box.left + 2 * margin, high = box.bottom - box.top + 2 * margin;
  const double at_most = std::sqrt(wide * high / settings.most_pixels);
  plan.mm_per_pixel = std::max({settings.finest_mm, fine_px_mm, at_most});
  plan.origin = turned({box.left - margin, box.top - margin}, plan.turn_rad);
  const int cols = std::max(8, static_cast<int>(std::ceil(wide / plan.mm_per_pixel)));
  const int rows = std::max(8, static_cast<int>(std::ceil(high / plan.mm_per_pixel)));
  plan.light.create(rows, cols, CV_32FC3);
  plan.clipped.create(rows, cols, CV_8U);
}

/// What takes ground away from a marking: maps of the plan's size, CV_8U, 1 where it lies.
struct Covered {
  cv::Mat sheet;   ///< the scale sheet
  cv::Mat others;  ///< other markings, but for a field that this one is painted on
  cv::Mat upon;    ///< markings painted on this one
  bool on_field = false;
};

/// A marking painted on a painted field (a symbol on its ground coat) has the field for its pavement; the field in turn
/// is not measured under the symbol.
Covered covered(const Ground& ground, const std::vector<Footprint>& all, std::size_t which, const PlanView& plan) {
  const cv::Size size = plan.light.size();
  Covered by{cv::Mat(size, CV_8U, cv::Scalar(0)), cv::Mat(size, CV_8U, cv::Scalar(0)),
             cv::Mat(size, CV_8U, cv::Scalar(0))};
  if (ground.sheet.size() >= 3) fill_outline(by.sheet, ground.ground_from_image(ground.sheet), plan);
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (i == which) continue;
    if (lies_on(all[which], all[i])) {
      by.on_field = true;
      continue;
    }
    const bool on_us = lies_on(all[i], all[which]);
    for (const GroundRing& ring : all[i].rings) {
      fill_outline(by.others, ring, plan);
      if (on_us) fill_outline(by.upon, ring, plan);
    }
  }
  return by;
}

cv::Mat grown(const cv::Mat& mask, double by_mm, const PlanView& plan) {
  const int radius = std::clamp(static_cast<int>(std::ceil(by_mm / plan.mm_per_pixel)), 1, 40);
  cv::Mat wider;
  cv::dilate(mask, wider, cv::getStructuringElement(cv::MORPH_RECT, {2 * radius + 1, 2 * radius + 1}));
  return wider;
}

/// Marks what is ours and what is pavement beside it, out to `margin` millimetres, and counts how much of the footprint
/// is seen. `in_photo`: where the photo shows the ground.
void mark_ground(const PaintMap& paint, const Ground& ground, const Footprint& footprint, const cv::Mat& in_photo,
                 const Covered& by, double margin, PlanView& plan) {
  const int rows = plan.light.rows, cols = plan.light.cols;
  const cv::Mat taken = grown(by.others, 12.0, plan) | grown(by.sheet, 6.0, plan);
  const cv::Mat foreign = on_plan(paint.not_ground, paint.photo_per_cell, plan, ground);
  const cv::Mat painted = on_plan(paint.footprint, paint.photo_per_cell, plan, ground);
  const double clear = std::max({4.0, 2 * plan.photo_px_mm, 1.5 * footprint.edge_error.value});
  plan.ours.create(rows, cols, CV_8U);
  plan.beside.create(rows, cols, CV_8U);
  const auto open_to = [](const cv::Mat& map, int r) { return map.empty() ? nullptr : map.ptr<float>(r); };
  int inside = 0, inside_seen = 0;
  for (int r = 0; r < rows; ++r) {
    const auto *on_sheet = by.sheet.ptr<unsigned char>(r), *in_photo_row = in_photo.ptr<unsigned char>(r),
               *beneath_row = by.upon.ptr<unsigned char>(r), *taken_row = taken.ptr<unsigned char>(r);
    const float *depth = plan.inside_mm.ptr<float>(r), *foreign_row = open_to(foreign, r),
                *painted_row = plan.on_field ? nullptr : open_to(painted, r);
    auto *ours = plan.ours.ptr<unsigned char>(r), *beside = plan.beside.ptr<unsigned char>(r);
    for (int c = 0; c < cols; ++c) {
      const auto d = static_cast<double>(depth[c]);
      const bool open = in_photo_row[c] != 0 && on_sheet[c] == 0, within_it = d > 0 && beneath_row[c] == 0;
      ours[c] = within_it && open ? 1 : 0;
      inside += within_it ? 1 : 0;
      inside_seen += ours[c];
      const bool odd = (foreign_row != nullptr && foreign_row[c] > 0.5F) ||
                       (painted_row != nullptr && d < -20 && painted_row[c] > 0.5F);
      beside[c] = d < -clear && d > -margin && open && taken_row[c] == 0 && !odd ? 1 : 0;
    }
  }
  plan.seen = inside > 0 ? static_cast<double>(inside_seen) / inside : 0;
}

}  // namespace

GroundPoint PlanView::ground_at(double column, double row) const {
  return origin + turned({column * mm_per_pixel, row * mm_per_pixel}, turn_rad);
}

Result<PlanView> look_down(const Photo& photo, const PaintMap& paint, const Ground& ground,
                           const std::vector<Footprint>& all, std::size_t which, const PlanSettings& settings) {
  require(which < all.size(), "the marking to measure is one of the footprints");
  const Footprint& footprint = all[which];
  double whole = 0, around = 0;
  for (const GroundRing& ring : footprint.rings) {
    whole += area(ring);
    around += perimeter(ring);
  }
  if (!(whole > 0)) return Problem{photo.file, "a marking without area cannot be measured; correct its outline"};
  // Area over half the perimeter is the width of anything long, and about half the width of compact shapes.
  const double width = footprint.width_mm > 0 ? std::min(footprint.width_mm, 4 * whole / around) : 2 * whole / around;

  const std::vector<double> pixel = pixel_sizes(photo, ground, footprint.rings);
  if (pixel.empty())
    return Problem{photo.file, "a marking lies outside the picture; step back until the whole of it is in view"};
  PlanView plan;
  plan.photo_px_mm = pixel[pixel.size() / 2];
  plan.turn_rad = main_direction(footprint.rings);
  plan.pixels_across = footprint.rings.size() == 1 && whole > 5 * width * width
                           ? stripe_pixels(footprint.rings.front(), plan.turn_rad, width, ground)
                           : width / plan.photo_px_mm;
  if (plan.pixels_across < settings.fewest_pixels_across) {
    return Problem{photo.file, "a marking is too small in the picture to be measured; take the photo from closer by"};
  }

  const double margin = std::clamp(0.9 * width, settings.least_margin_mm, settings.most_margin_mm);
  lay_grid(footprint.rings, margin, pixel[pixel.size() / 4], settings, plan);
  const int taps = std::clamp(static_cast<int>(std::lround(plan.mm_per_pixel / pixel.front())), 1, 3);
  const cv::Mat in_photo = sample_photo(photo, ground, taps, plan);
  plan.inside_mm = signed_distance(footprint.rings, plan);
  const Covered by = covered(ground, all, which, plan);
  plan.on_field = by.on_field;
  mark_ground(paint, ground, footprint, in_photo, by, margin, plan);
  clean_beside(plan);
  sample_single_pixels(photo, ground, plan);
  return plan;
}

cv::Mat on_plan(const cv::Mat& map, double photo_per_cell, const PlanView& plan, const Ground& ground) {
  if (map.empty() || !(photo_per_cell > 0)) return {};
  const auto& h = ground.image_from_ground.matrix();
  const double c = std::cos(plan.turn_rad) * plan.mm_per_pixel, s = std::sin(plan.turn_rad) * plan.mm_per_pixel;
  // OpenCV's warps put the first pixel's centre at (0, 0), on both sides.
  const cv::Matx33d ground_from_plan(c, -s, plan.origin.x + 0.5 * (c - s), s, c, plan.origin.y + 0.5 * (s + c), 0, 0,
                                     1);
  const cv::Matx33d photo_from_ground(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], h[8]);
  const double k = 1 / photo_per_cell;
  const cv::Matx33d cell_from_photo(k, 0, -0.5, 0, k, -0.5, 0, 0, 1);
  cv::Mat plan_map;
  cv::warpPerspective(map, plan_map, cell_from_photo * photo_from_ground * ground_from_plan, plan.light.size(),
                      cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
  return plan_map;
}

}  // namespace lotwear
