#include "rendering/sheet_on_ground.hpp"

#include <algorithm>
#include <cmath>

#include "rendering/camera.hpp"
#include "rendering/draw_parts.hpp"

namespace lotwear::rendering {

namespace {

GroundRing corners_of(const SheetPlan& plan, double margin_mm) {
  const SheetLayout layout = sheet_layout(plan.paper);
  const double w = layout.width_mm / 2 + margin_mm, h = layout.height_mm / 2 + margin_mm;
  return placed({{{-w, -h}, {w, -h}, {w, h}, {-w, h}}}, plan.turn, plan.at)[0];
}

bool inside_any(const std::vector<MarkingPlan>& markings, GroundPoint p) {
  for (const MarkingPlan& m : markings) {
    for (const GroundRing& ring : m.rings) {
      bool in = false;
      for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
        const GroundPoint a = ring[i], b = ring[j];
        if ((a.y > p.y) != (b.y > p.y) && p.x < a.x + (b.x - a.x) * (p.y - a.y) / (b.y - a.y)) in = !in;
      }
      if (in) return true;
    }
  }
  return false;
}

/// White of paper, black of ink at a place on the sheet, millimetres from its top-left corner.
class Print {
 public:
  explicit Print(const SheetLayout& layout) : layout_(layout) {
    for (const Fiducial& f : layout.fiducials)
      cells_.push_back(fiducial_cells(f.id));
  }
  float at(double x, double y) const {
    for (std::size_t i = 0; i < cells_.size(); ++i) {
      const Fiducial& f = layout_.fiducials[i];
      if (x < f.x_mm || y < f.y_mm || x >= f.x_mm + f.side_mm || y >= f.y_mm + f.side_mm) continue;
      const int n = cells_[i].cols;
      const int c = std::min(n - 1, static_cast<int>((x - f.x_mm) / f.side_mm * n));
      const int r = std::min(n - 1, static_cast<int>((y - f.y_mm) / f.side_mm * n));
      return cells_[i].at<uchar>(r, c) != 0 ? kPaper : kInk;
    }
    const double along = x - layout_.ruler_x_mm;
    if (along >= 0 && along <= layout_.ruler_mm && std::abs(y - layout_.ruler_y_mm) < 0.4) return kInk;
    return kPaper;
  }

 private:
  static constexpr float kPaper = 0.82F, kInk = 0.03F;
  const SheetLayout& layout_;
  std::vector<cv::Mat> cells_;
};

}  // namespace

std::optional<SheetPlan> place_sheet(Random& random, const ScenePlan& scene) {
  if (scene.markings.empty()) return std::nullopt;
  const Camera camera(scene.camera);
  const GroundPoint about = middle_of(scene.markings[0].rings);
  for (int round = 0; round < 120; ++round) {
    SheetPlan plan;
    plan.paper = random.chance(0.6) ? Paper::letter : Paper::a4;
    plan.turn = random.chance(0.5) ? 0.1 * random.normal() : random.between(0, 2 * std::numbers::pi);
    plan.at = {about.x + random.between(-1100, 1100), about.y + random.between(-1100, 1100)};
    bool fits = true;
    for (const GroundPoint& p : points_inside({corners_of(plan, 35)}, 80))
      fits = fits && !inside_any(scene.markings, p);
    for (const GroundPoint& p : corners_of(plan, 35)) {
      const auto seen = camera.see(p);
      fits = fits && seen && seen->x > 0 && seen->y > 0 && seen->x < camera.width() && seen->y < camera.height();
    }
    if (fits) return plan;
  }
  return std::nullopt;
}

void lay_sheet(Strip& strip, const SheetPlan& plan) {
  const SheetLayout layout = sheet_layout(plan.paper);
  const Print print(layout);
  const double c = std::cos(plan.turn), s = std::sin(plan.turn),
               reach = std::hypot(layout.width_mm, layout.height_mm) / 2 + 4;
  const int r0 = std::max(0, static_cast<int>((plan.at.y - reach - strip.top_mm) / strip.cell_mm));
  const int r1 = std::min(strip.rows, static_cast<int>((plan.at.y + reach - strip.top_mm) / strip.cell_mm) + 1);
  const int c0 = std::max(0, static_cast<int>((plan.at.x - reach - strip.left_mm) / strip.cell_mm));
  const int c1 = std::min(strip.cols, static_cast<int>((plan.at.x + reach - strip.left_mm) / strip.cell_mm) + 1);
  constexpr int parts = 3;  // ink edges fall between cells
  for (int r = r0; r < r1; ++r) {
    float *rgb = strip.albedo.ptr<float>(r), *height = strip.height.ptr<float>(r), *rank = strip.rank.ptr<float>(r);
    for (int col = c0; col < c1; ++col) {
      float cover = 0, tone = 0;
      for (int i = 0; i < parts * parts; ++i) {
        const double dx = strip.x_at(col) + strip.cell_mm * ((i % parts + 0.5) / parts - 0.5) - plan.at.x;
        const double dy = strip.y_at(r) + strip.cell_mm * ((i / parts + 0.5) / parts - 0.5) - plan.at.y;
        const double x = c * dx + s * dy + layout.width_mm / 2, y = c * dy - s * dx + layout.height_mm / 2;
        if (x < 0 || y < 0 || x >= layout.width_mm || y >= layout.height_mm) continue;
        cover += 1;
        tone += print.at(x, y);
      }
      if (cover <= 0) continue;
      tone /= cover;
      cover /= parts * parts;
      for (int k = 0; k < 3; ++k)
        rgb[3 * col + k] += cover * (tone - rgb[3 * col + k]);
      height[col] += cover * (3 - height[col]);
      rank[col] += cover * (1 - rank[col]);
      strip.wet.at<uchar>(r, col) = static_cast<uchar>(strip.wet.at<uchar>(r, col) * (1 - cover));
    }
  }
}

}  // namespace lotwear::rendering
