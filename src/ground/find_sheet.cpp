#include "ground/find_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numeric>

#include "ground/fiducials.hpp"
#include "ground/sheet_pose.hpp"

namespace lotwear {

namespace {

constexpr double kGrownMm = 8;      // curled edges, and the blur of the white margin
constexpr double kPlacedMm = 0.05;  // printers place an edge to about a dot of 600 dots per inch
// A residual this large, in units of what was expected of it and in pixels, belongs to a covered or torn fiducial.
constexpr double kTooFarOff = 6, kTooFarOffPx = 1.5;
constexpr int kRounds = 4;  // of looking again where the pose says

/// Corners in the detector's order: clockwise from the top-left one.
std::array<SheetCorner, 4> corners_of(const Fiducial& f) {
  const double right = f.x_mm + f.side_mm, low = f.y_mm + f.side_mm;
  return {SheetCorner{f.x_mm, f.y_mm, 1, 1, {}},
          {right, f.y_mm, -1, 1, {}},
          {right, low, -1, -1, {}},
          {f.x_mm, low, 1, -1, {}}};
}

const Fiducial& of_id(const SheetLayout& layout, int id) {
  return *std::find_if(layout.fiducials.begin(), layout.fiducials.end(), [&](const Fiducial& f) { return f.id == id; });
}

std::optional<SheetPose> pose_of(const std::vector<SeenFiducial>& seen, const SheetLayout& layout, const Photo& photo) {
  std::vector<SheetCorner> corners;
  for (const SeenFiducial& s : seen) {
    auto on_sheet = corners_of(of_id(layout, s.id));
    for (std::size_t k = 0; k < 4; ++k) {
      on_sheet[k].seen = s.corners[k];
      const double px_per_mm = length(s.corners[k] - s.corners[(k + 1) % 4]) / of_id(layout, s.id).side_mm;
      on_sheet[k].error_px = std::hypot(s.error_px[k], kPlacedMm * px_per_mm);
      corners.push_back(on_sheet[k]);
    }
  }
  return sheet_pose(corners, camera_of(photo), photo.rgb.size(), {layout.width_mm, layout.height_mm});
}

std::array<ImagePoint, 4> expected(const SheetPicture& picture, const Fiducial& f) {
  std::array<ImagePoint, 4> corners;
  const auto on_sheet = corners_of(f);
  for (std::size_t k = 0; k < 4; ++k)
    corners[k] = picture.corner(on_sheet[k]);
  return corners;
}

/// Every fiducial of the sheet where the pose puts it, refined where its edges show; else as the detector saw it, if it
/// did.
std::vector<SeenFiducial> looked_at_again(const Photo& photo, const SheetLayout& layout, const SheetPose& pose,
                                          const std::vector<SeenFiducial>& rough) {
  const SheetPicture picture(pose.model);
  std::vector<SeenFiducial> seen;
  for (const Fiducial& f : layout.fiducials) {
    if (const auto refined = refine_fiducial(photo, f.id, expected(picture, f), kFiducialCells)) {
      seen.push_back(*refined);
    } else {
      std::copy_if(rough.begin(), rough.end(), std::back_inserter(seen),
                   [&](const SeenFiducial& r) { return r.id == f.id; });
    }
  }
  return seen;
}

/// Without the fiducials that do not fit; a covered corner must not bend the plane.
std::vector<SeenFiducial> fitting(const std::vector<SeenFiducial>& seen, const SheetLayout& layout,
                                  const SheetPose& pose) {
  const SheetPicture picture(pose.model);
  std::vector<SeenFiducial> kept;
  for (const SeenFiducial& s : seen) {
    const auto where = expected(picture, of_id(layout, s.id));
    double worst = 0, worst_px = 0;
    for (std::size_t k = 0; k < 4; ++k) {
      const double off = length(s.corners[k] - where[k]);
      worst = std::max(worst, off / (s.error_px[k] * std::max(1.0, pose.misfit)));
      worst_px = std::max(worst_px, off);
    }
    if (worst < kTooFarOff || worst_px < kTooFarOffPx) kept.push_back(s);
  }
  return kept;
}

double error_sum(const std::vector<SeenFiducial>& seen) {
  double sum = 0;
  for (const SeenFiducial& s : seen)
    sum = std::accumulate(s.error_px.begin(), s.error_px.end(), sum);
  return sum;
}

}  // namespace

std::optional<FoundSheet> locate_sheet(const Photo& photo) {
  const RoughSheet rough = detect_sheet(photo);
  if (rough.fiducials.empty()) return std::nullopt;
  const SheetLayout layout = sheet_layout(rough.paper);
  std::vector<SeenFiducial> seen;
  for (const SeenFiducial& f : rough.fiducials) {
    seen.push_back(refine_fiducial(photo, f.id, f.corners, kFiducialCells).value_or(f));
  }
  auto pose = pose_of(seen, layout, photo);
  if (!pose) return std::nullopt;
  // Once the pose is known, fiducials the detector missed or saw only roughly (half in shadow, small, far) are looked
  // for where they must be; each round knows the pose better.
  for (int round = 0; round < kRounds; ++round) {
    std::vector<SeenFiducial> again = fitting(looked_at_again(photo, layout, *pose, rough.fiducials), layout, *pose);
    if (again.empty()) break;
    const auto better = pose_of(again, layout, photo);
    if (!better) break;
    const bool settled = error_sum(again) >= error_sum(seen) && again.size() <= seen.size();
    pose = better;
    seen = std::move(again);
    if (settled) break;
  }
  FoundSheet found;
  found.paper = rough.paper;
  found.fiducials = static_cast<int>(seen.size());
  found.misfit = pose->misfit;
  found.belief = pose->belief;
  const SheetPicture picture(pose->model);
  for (const GroundPoint g : {GroundPoint{-kGrownMm, -kGrownMm},
                              {layout.width_mm + kGrownMm, -kGrownMm},
                              {layout.width_mm + kGrownMm, layout.height_mm + kGrownMm},
                              {-kGrownMm, layout.height_mm + kGrownMm}}) {
    found.outline.push_back(picture.point(g.x, g.y));
  }
  return found;
}

std::optional<Ground> find_sheet(const Photo& photo) {
  const auto found = locate_sheet(photo);
  if (!found) return std::nullopt;
  Ground ground = ground_of(found->belief.view, photo.rgb.size());
  const LengthErrors errors =
      length_errors(found->belief, photo.rgb.size(), usual_points(found->belief.view, photo.rgb.size()));
  ground.source = "scale-sheet";
  ground.scale_error = Fraction{errors.scale};
  ground.shape_error = Fraction{errors.shape};
  ground.sheet = found->outline;
  return ground;
}

}  // namespace lotwear
